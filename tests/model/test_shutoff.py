import numpy as np
from numpy.testing import assert_allclose

from engine.model.shutoff import USUAL_VOLUME, pipe_of, valve_volume


def test_the_volume_behind_the_valve_is_stated_or_of_the_hose_or_usual() -> None:
    build = {
        "speed": np.ones(3),
        "hose_volume": np.array([1e-3, np.nan, np.nan]),
        "hose_bore": np.full(3, 9e-3),
        "hose_length": np.array([5.0, 5.0, 0.0]),
    }
    hose = np.pi / 4 * 9e-3**2 * 5
    assert_allclose(valve_volume(build), [1e-3, hose, USUAL_VOLUME])
    assert np.isfinite(pipe_of(build)[0]).tolist() == [True, True, False]
    alone = {key: build[key] for key in ("speed", "hose_volume")}
    assert_allclose(valve_volume(alone), [1e-3, USUAL_VOLUME, USUAL_VOLUME])
