"""How near formcheck comes to the truth on rendered sets whose joint angles are known exactly.

    python tools/benchmarks/accuracy.py --part second-tuning   the sets once kept for reporting (default)
    python tools/benchmarks/accuracy.py --part tuning          the sets anything may be set with
    python tools/benchmarks/accuracy.py --part plain           80 sets in plain conditions, for the margins too
    python tools/benchmarks/accuracy.py --part shipped         the clips in clips_demo
    python tools/benchmarks/accuracy.py FOLDER ...             any folder of clips with truth files
    python tools/benchmarks/accuracy.py --part tuning --write         puts the table into docs/accuracy.md

Prints what is to be reached and what is; repetitions, clips without the exercise, phases, planted faults and false
alarms; and for every measure and camera angle number, share given, bias, mean error, 95th percentile, truths inside the
margin, and the mean errors of two plain readings of the same landmarks (`baselines`). `--conditions`, `--worst N` and
`--without CONDITION` say where errors come from. The benchmark's landmarks are committed (tools/benchmarks/recordings),
so a run takes a minute or two, not hours.
"""

import argparse
from dataclasses import replace
from pathlib import Path

from cases import FOLDERS, HERE, OLD_NAMES, load_cases
from comparing import Outcome, outcome_of
from formcheck.core.model import Settings
from goals import goal_lines
from tables import LEGEND, condition_table, measure_table, printed_by, summary, worst_table, write_section

TESTED = ("tuning",)
"""Parts whose tables a test prints anew; the others carry the commit that printed them."""
PAGE = HERE.parents[1] / "docs" / "accuracy.md"


def settings_from(changes: list[str]) -> Settings:
    """The documented settings with some values changed; raises SystemExit with a sentence for an unknown one."""
    settings = Settings()
    for change in changes:
        name, _, value = change.partition("=")
        if not hasattr(settings, name):
            raise SystemExit(f"There is no setting {name!r}.")
        old = getattr(settings, name)
        settings = replace(settings, **{name: value == "true" if isinstance(old, bool) else type(old)(value)})
    return settings


def set_lines(outcomes: list[Outcome]) -> list[str]:
    """One line for each set whose repetitions are not exactly right, and each false alarm."""
    lines = []
    for one in outcomes:
        if one.no_exercise is not None:
            wrong = {name: count for name, count in one.false_reps.items() if count}
            if wrong:
                lines.append(f"{one.clip}: {one.no_exercise}, taken for {wrong}")
        elif not one.counted:
            partial = f"{one.partial[1]} of {one.partial[0]} partial told, {one.wrongly_partial} wrongly partial"
            lines.append(
                f"{one.clip}: {one.found} repetitions found, {one.planned} planned; {partial}; seen {one.view}"
            )
        for alarm in one.alarms:
            value, truth = ("-" if x is None else f"{x:.2f}" for x in (alarm.value, alarm.truth))
            lines.append(f"{alarm.clip}: false alarm {alarm.check} in rep {alarm.rep}: {value}, true {truth}")
        missed = [fault for fault in one.planted if fault.visible and not fault.found]
        lines += [f"{fault.clip}: {fault.kind} not found: {', '.join(fault.verdicts)}" for fault in missed]
    return lines


def main() -> None:
    """Print the tables, or put them on the page."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--part", choices=(*FOLDERS, *OLD_NAMES), default="second-tuning")
    parser.add_argument("--write", action="store_true", help="put the tables of the part into docs/accuracy.md")
    parser.add_argument("--set", action="append", default=[], metavar="NAME=VALUE", dest="changes", help="a setting")
    parser.add_argument("--sets", action="store_true", help="name the sets with something wrong")
    parser.add_argument("--conditions", action="store_true", help="errors with and without each condition")
    parser.add_argument("--worst", type=int, default=0, metavar="N", help="the N largest errors against their margins")
    parser.add_argument("--without", action="append", default=[], metavar="CONDITION", help="leave such sets out")
    options = parser.parse_args()
    options.part = OLD_NAMES.get(options.part, options.part)
    folders = options.folders or [FOLDERS[options.part]]
    settings = settings_from(options.changes)
    cases = (case for folder in folders for case in load_cases(folder))
    outcomes = [outcome_of(case, settings) for case in cases if not case.conditions & set(options.without)]
    if not outcomes:
        raise SystemExit(f"There are no sets with truth in {', '.join(str(folder) for folder in folders)}.")
    lines = [*goal_lines(outcomes), "", *summary(outcomes), "", *measure_table(outcomes), "", LEGEND]
    if options.sets:
        lines += ["", *set_lines(outcomes)]
    if options.conditions:
        lines += ["", *condition_table(outcomes)]
    if options.worst:
        lines += ["", *worst_table(outcomes, options.worst)]
    print("\n".join(lines))
    if options.write:
        if options.folders or options.changes or options.without:
            parser.error("--write is for a whole part with the documented settings")
        command = f"python tools/benchmarks/accuracy.py --part {options.part}"
        text = f"```sh\n{command}\n```\n\n```text\n" + "\n".join(lines) + "\n```"
        write_section(PAGE, options.part, text if options.part in TESTED else f"{text}\n\n{printed_by()}")


if __name__ == "__main__":
    main()
