"""A stack of discs: a folder of photos judged one after the other, sorted by what to do, gone through by a person."""

from discscan.stack.groups import Group, Spot, groups_of, spots_of
from discscan.stack.outputs import Outputs
from discscan.stack.review import Decision, Review
from discscan.stack.run import Progress, StackRun
from discscan.stack.work import WorkFolder, default_work_folder
from discscan.stack.workers import Workers

__all__ = [
    "Decision",
    "Group",
    "Outputs",
    "Progress",
    "Review",
    "Spot",
    "StackRun",
    "WorkFolder",
    "Workers",
    "default_work_folder",
    "groups_of",
    "spots_of",
]
