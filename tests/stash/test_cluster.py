"""A cluster's executor serves where a pool of processes does: shown with Dask's local cluster."""

import warnings

import pytest

from colorcore.stash import Stash
from colorcore.stash.intake import add_photos
from tests.stash.test_intake import photos, shelf  # noqa: F401

distributed = pytest.importorskip(
    "distributed", reason="the cluster's executor needs the extra 'test' (distributed)"
)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("processes", [False, True])
def test_a_dask_cluster_adds_a_shelf(tmp_path, shelf, processes):  # noqa: F811
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with (
            distributed.LocalCluster(
                n_workers=2, threads_per_worker=1, processes=processes, dashboard_address=None
            ) as cluster,
            distributed.Client(cluster) as client,
            Stash(tmp_path / "stash.sqlite") as stash,
        ):
            # One more than there are workers.
            paths = [*photos(shelf)[:2], shelf / "broken.jpg"]
            intake = add_photos(stash, paths, executor=client.get_executor())
            assert sorted(intake.added) == ["piece 0", "piece 1"]
            assert len(intake.skipped) == 1
            assert len(stash.entries()) == 2
