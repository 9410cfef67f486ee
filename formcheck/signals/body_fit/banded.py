"""Normal equations of a chain of moments that touch their next two neighbours, with a few numbers shared by all.

The matrix is block-banded with a border: blocks (n, s, s) on the diagonal and one and two beside it, and a border
(n, s, g) of what the shared numbers have to do with each moment. Solved by a banded Cholesky factor and the border's
Schur complement; time and memory grow with n alone.
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import as_strided

from formcheck.core.model import Array


@dataclass(frozen=True, eq=False)
class Normal:
    """A symmetric positive system: ``near[m][k]`` couples moment k + m (rows) with moment k (columns), m = 0, 1, 2."""

    near: tuple[Array, Array, Array]
    border: Array
    shared: Array

    def damped(self, amount: float) -> "Normal":
        """The same with every diagonal number grown by a share (Marquardt)."""
        size = self.near[0].shape[1]
        near = np.array(self.near[0])
        near[:, range(size), range(size)] *= 1.0 + amount
        shared = self.shared + amount * np.diag(np.diag(self.shared))
        return Normal((near, *self.near[1:]), self.border, shared)

    def solve(self, right: Array, right_shared: Array) -> tuple[Array, Array]:
        """Step of the moments (n, s) and of the shared numbers (g,). Raises LinAlgError when not positive."""
        from scipy.linalg import cho_factor, cho_solve, cho_solve_banded, cholesky_banded

        count, size = right.shape
        factor = cholesky_banded(self._band(), overwrite_ab=True, lower=True, check_finite=True)
        stacked = np.concatenate([right.reshape(-1, 1), self.border.reshape(count * size, -1)], axis=1)
        found = cho_solve_banded((factor, True), stacked)
        weighed = self.border.reshape(count * size, -1).T @ found
        schur = self.shared - weighed[:, 1:]
        step_shared = cho_solve(cho_factor(schur), right_shared - weighed[:, 0])
        return (found[:, 0] - found[:, 1:] @ step_shared).reshape(count, size), step_shared

    def covariances(self) -> tuple[Array, Array]:
        """Diagonal blocks of the inverse: of each moment (n, s, s), and of the shared numbers (g, g).

        Takahashi's recursion on pairs of moments (block tridiagonal): with S the Schur complements of the forward
        sweep, cov[i] = S[i]⁻¹ + G[i] cov[i + 1] G[i]ᵀ, G[i] = S[i]⁻¹ coupling[i]ᵀ.
        """
        from scipy.linalg import cho_solve_banded, cholesky_banded

        count, size, _ = self.near[0].shape
        blocks, below = self._pairs()
        inverse = np.empty_like(blocks)
        gain = np.empty_like(below)
        schur = blocks[0]
        for i in range(len(blocks)):
            inverse[i] = np.linalg.inv(schur)
            if i + 1 < len(blocks):
                gain[i] = inverse[i] @ below[i].T
                schur = blocks[i + 1] - below[i] @ gain[i]
        for i in range(len(blocks) - 2, -1, -1):
            inverse[i] += gain[i] @ inverse[i + 1] @ gain[i].T
        alone = np.empty((2 * len(blocks), size, size))
        alone[0::2] = inverse[:, :size, :size]
        alone[1::2] = inverse[:, size:, size:]
        factor = cholesky_banded(self._band(), overwrite_ab=True, lower=True)
        reach = cho_solve_banded((factor, True), self.border.reshape(count * size, -1))
        shared = np.linalg.inv(self.shared - self.border.reshape(count * size, -1).T @ reach)
        reach = reach.reshape(count, size, -1)
        return alone[:count] + reach @ shared @ reach.transpose(0, 2, 1), shared

    def _band(self) -> Array:
        """The lower triangle as LAPACK keeps it, (3s, ns): what couples number i with number j is at (i - j, j)."""
        count, size, _ = self.near[0].shape
        band = np.zeros((count, size, 3 * size))  # a column of the result after the other, which is LAPACK's order
        strides = (band.strides[0], band.strides[1] - band.itemsize, band.itemsize)
        # what lies above the diagonal comes to where nothing is kept, or where a block further below is written later
        for beside, block in enumerate((np.tril(self.near[0]), *self.near[1:])):
            place = as_strided(band[:, 0, size * beside :], (count, size, size), strides)
            place[: len(block)] = block.transpose(0, 2, 1)
        return band.reshape(count * size, 3 * size).T

    def _pairs(self) -> tuple[Array, Array]:
        """Blocks of two moments each (p, 2s, 2s) and what couples the next pair to each (p - 1, 2s, 2s)."""
        count, size, _ = self.near[0].shape
        pairs = (count + 1) // 2
        blocks = np.zeros((pairs, 2 * size, 2 * size))
        below = np.zeros((max(pairs - 1, 0), 2 * size, 2 * size))
        own, one, two = self.near
        blocks[:, :size, :size] = own[0::2]
        blocks[: count // 2, size:, size:] = own[1::2]
        blocks[: count // 2, size:, :size] = one[0::2]
        blocks[: count // 2, :size, size:] = one[0::2].transpose(0, 2, 1)
        if count % 2:  # a made-up last moment, tied to nothing
            blocks[-1, size:, size:] = np.eye(size)
        below[:, :size, :size] = two[0::2][: pairs - 1]
        below[:, :size, size:] = one[1::2][: pairs - 1]
        half = two[1::2]
        below[: len(half), size:, size:] = half
        return blocks, below
