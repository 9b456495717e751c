"""Stages in series: the pressures between them at which all pass the same flow."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Lanes

Flows = Callable[[NDArray[np.int64], Lanes], Lanes]
"""Flow of each stage (stage, row) of some lanes, from their pressures between (joint, row)."""
ROUNDS = 20
"""Most rounds of the search; four or five are usual."""
LONGEST_STEP = 0.35
"""Largest change of the logarithm of a pressure in one round."""
KEPT = 0.2
"""Share of a stage's drop, by logarithms, that a round leaves it at least."""
FAINT = 0.03
"""Flow over the largest of a lane that stands for less, or for none that is known."""
NARROW = 1e-9
"""Width of a bracket, by logarithms, in which nothing is found any more."""


def pressures_between(
    *,
    flows: Flows,
    supply: Lanes,
    back: Lanes,
    guess: Lanes,
    slopes: tuple[Lanes, Lanes],
    close: float,
) -> tuple[Lanes, Lanes]:
    """Find the pressures between stages at which all flows of a lane agree.

    Parameters
    ----------
    flows : Flows
        Flow of every stage [kg/s] for some lanes and pressures; NaN in all stages gives up a lane.
    supply, back : Lanes
        Pressures before the first and behind the last stage [Pa], (lane,).
    guess : Lanes
        Pressures between [Pa] to begin with, (joint, lane), falling from stage to stage.
    slopes : tuple[Lanes, Lanes]
        Slopes of the logarithm of each stage's flow with those of the pressures before and behind
        it [-], (stage, lane); estimates do.
    close : float
        Difference of two flows that counts as none, as a share [-].

    Returns
    -------
    tuple[Lanes, Lanes]
        Pressures [Pa], (joint, lane), those of the last call of `flows` for each lane, and the
        largest difference of two flows there, as a share [-]; infinite where a lane was given up.

    Notes
    -----
    Newton's method on logarithms of pressure and flow with the estimated slopes, which each round
    improves (Broyden). Steps are bounded and keep the order of the pressures. A single pressure is
    bracketed too, as a higher one gives the later stage more flow and the earlier less; where a
    step leaves the bracket, the middle of it is tried.

    References
    ----------
    Broyden, Math. Comp. 19, 1965, 577-593 (from memory).

    """
    joints, n_lanes = guess.shape
    at = np.log(guess)
    first, last = np.log(supply), np.log(back)
    slope = _jacobian(*slopes)
    low = np.broadcast_to(last, (joints, n_lanes)).copy()
    high = np.broadcast_to(first, (joints, n_lanes)).copy()
    off = np.full(n_lanes, np.inf)
    before, missed = at.copy(), np.full_like(at, np.nan)
    rows = np.arange(n_lanes)
    for turn in range(ROUNDS):
        found = flows(rows, np.exp(at[:, rows]))
        largest = np.max(np.nan_to_num(found), axis=0)
        told = np.fmax(found, FAINT * largest)
        is_sure = (found >= FAINT * largest).all(axis=0)
        with np.errstate(divide="ignore", invalid="ignore"):
            here = np.diff(np.log(told), axis=0)
        off[rows] = np.where(is_sure, np.max(np.abs(here), axis=0), np.inf)
        left = ~(off[rows] <= close) & np.isfinite(here).all(axis=0)
        if turn == ROUNDS - 1:
            break
        # What the last step teaches of the slopes.
        moved, gained = at[:, rows] - before[:, rows], here - missed[:, rows]
        expected = np.einsum("ijr,jr->ir", slope[:, :, rows], moved)
        square = np.sum(np.square(moved), axis=0)
        teaches = is_sure & np.isfinite(gained).all(axis=0) & (square > 0)
        change = (gained - expected)[:, None] * moved[None] / np.where(square > 0, square, 1.0)
        slope[:, :, rows] += np.where(teaches, change, 0.0)
        before[:, rows] = at[:, rows]
        missed[:, rows] = np.where(is_sure, here, np.nan)
        if joints == 1:
            too_high = here > 0
            high[:, rows] = np.where(too_high, at[:, rows], high[:, rows])
            low[:, rows] = np.where(too_high, low[:, rows], at[:, rows])
            left &= (high - low)[0, rows] > NARROW
        rows, here = rows[left], here[:, left]
        if not rows.size:
            break
        onward = at[:, rows] + _step(slope[:, :, rows], here, at[:, rows], first[rows], last[rows])
        if joints == 1:
            inside = (low[:, rows] < onward) & (onward < high[:, rows])
            onward = np.where(inside, onward, (low[:, rows] + high[:, rows]) / 2)
        at[:, rows] = onward
    return np.exp(at), off


def _jacobian(before: Lanes, behind: Lanes) -> Lanes:
    """Slopes of what two stages' flows differ by, with each pressure, (joint, joint, lane)."""
    joints = len(before) - 1
    found = np.zeros((joints, joints, before.shape[1]))
    for joint in range(joints):
        found[joint, joint] = before[joint + 1] - behind[joint]
        if joint:
            found[joint, joint - 1] = -before[joint]
        if joint + 1 < joints:
            found[joint, joint + 1] = behind[joint + 1]
    return found


def _step(slope: Lanes, off: Lanes, at: Lanes, first: Lanes, last: Lanes) -> Lanes:
    """Newton's step, shortened so that the pressures keep their order."""
    whole = np.moveaxis(slope, -1, 0)
    flat = ~(np.abs(np.linalg.det(whole)) > 1e-12)
    whole = np.where(flat[:, None, None], np.eye(len(off)), whole)
    step = -np.linalg.solve(whole, off.T[..., None])[..., 0].T
    longest = np.max(np.abs(step), axis=0)
    share = np.minimum(1.0, LONGEST_STEP / np.maximum(longest, LONGEST_STEP))
    drop = -np.diff(np.concatenate([first[None], at, last[None]]), axis=0)
    none = np.zeros((1, step.shape[1]))
    grows = -np.diff(np.concatenate([none, step, none]), axis=0)
    shrinks = np.where(grows < 0, grows, -1e-300)
    share = np.minimum(share, np.min((1 - KEPT) * drop / -shrinks, axis=0))
    return np.asarray(step * share)
