"""Rims and hubs in the photo, and the pose that they share. The only room with pixels of the photo."""

from discscan.locate.backlit import locate_against_lamp
from discscan.locate.find import locate_discs

__all__ = ["locate_against_lamp", "locate_discs"]
