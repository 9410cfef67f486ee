"""Whether so many truths inside the margin are what 95 % would give, when few sets were looked at.

The values of one set err alike: they share body, clothes and camera, so seventeen values of six sets say little more
than six. How much alike is read from the groups themselves (one number for all of them, by analysis of variance), the
number of values is cut down to that of independent ones by the usual design effect, and the interval around the share
inside is the exact binomial one. Sources, from memory: Kish 1965 (design effect), Clopper & Pearson 1934 (interval).
"""

from collections.abc import Mapping, Sequence

import numpy as np
from scipy.stats import beta

Group = Mapping[str, Sequence[bool]]
"""Set → whether each of its values lies inside the margin, for one measure and camera angle."""
CONFIDENCE = 0.95


def alikeness(groups: Sequence[Group]) -> float:
    """Intraclass correlation of 'inside' within sets, 0..1, over all groups together; 0 when nothing differs.

    The moment estimator of a one-way analysis of variance whose mean is each group's own.
    """
    between = within = pairs = 0.0
    df_between = df_within = 0
    for group in groups:
        sets = [np.asarray(values, dtype=float) for values in group.values()]
        values = np.concatenate(sets)
        sizes = np.array([len(one) for one in sets])
        between += sum(len(one) * float(one.mean() - values.mean()) ** 2 for one in sets)
        within += sum(float(((one - one.mean()) ** 2).sum()) for one in sets)
        df_between += len(sets) - 1
        df_within += len(values) - len(sets)
        pairs += len(values) - float((sizes**2).sum()) / len(values)
    if df_between == 0 or df_within == 0 or between + within == 0:
        return 0.0
    usual = pairs / df_between
    mean_between, mean_within = between / df_between, within / df_within
    alike = (mean_between - mean_within) / (mean_between + (usual - 1) * mean_within)
    return float(np.clip(alike, 0.0, 1.0))


def worth(group: Group, alike: float) -> float:
    """How many independent values a group is worth: n over 1 + (m - 1)·alike, m the sets' mean size, by values."""
    sizes = np.array([len(values) for values in group.values()], dtype=float)
    return float(sizes.sum() / (1 + ((sizes**2).sum() / sizes.sum() - 1) * alike))


def interval(share: float, values: float) -> tuple[float, float]:
    """Exact binomial interval (Clopper-Pearson) around a share of so many independent values, a whole number or not."""
    hits, misses, tail = share * values, (1 - share) * values, (1 - CONFIDENCE) / 2
    low = float(beta.ppf(tail, hits, misses + 1)) if hits > 1e-9 else 0.0
    high = float(beta.ppf(1 - tail, hits + 1, misses)) if misses > 1e-9 else 1.0
    return low, high


def compatible(group: Group, alike: float, wanted: float) -> bool:
    """The group's share inside could have come about if ``wanted`` were the true one."""
    share = float(np.mean([inside for values in group.values() for inside in values]))
    low, high = interval(share, worth(group, alike))
    return low <= wanted <= high
