"""Many jobs over workers: resumed where they stopped, and no bad one stops the rest."""

from nestlib.batch.cluster import cluster, seen_from_anywhere
from nestlib.batch.digest import is_list, job_digest
from nestlib.batch.one_job import Outcome, Task, nest_one
from nestlib.batch.running import Batch, processes, run_batch

__all__ = [
    "Batch",
    "Outcome",
    "Task",
    "cluster",
    "is_list",
    "job_digest",
    "nest_one",
    "processes",
    "run_batch",
    "seen_from_anywhere",
]
