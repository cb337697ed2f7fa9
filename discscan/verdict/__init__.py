"""Small named rules, and the one place that picks among them. No number is written here: limits are the house's."""

from discscan.verdict.another_photo import could_become
from discscan.verdict.decide import CAUTIONS, decide
from discscan.verdict.rules import RULES, Rule

__all__ = ["CAUTIONS", "RULES", "Rule", "could_become", "decide"]
