"""Job files and part lists: what people write, checked and with everything's place."""

from nestlib.jobs.entries import LookUps, PartEntry, PartLine, SheetEntry, repeated, resolve
from nestlib.jobs.job_file import JobFile, ReadJobFile, read_job_file
from nestlib.jobs.part_list import read_part_list

__all__ = [
    "JobFile",
    "LookUps",
    "PartEntry",
    "PartLine",
    "ReadJobFile",
    "SheetEntry",
    "read_job_file",
    "read_part_list",
    "repeated",
    "resolve",
]
