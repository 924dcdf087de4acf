"""Worker processes of this machine, from the standard library."""

import multiprocessing
from concurrent.futures import Executor, ProcessPoolExecutor


class Processes:
    """Opens pools of worker processes; a port of ``nesting.executors``."""

    def open(self, workers: int) -> Executor:
        """Open a pool of `workers` processes, started fresh so that no lock of this one is inherited."""
        return ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn"))
