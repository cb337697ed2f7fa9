"""Holds the forecast against discs of which all is known, and fits what can be fitted. `discscan` never imports it.

    python -m calibration.fit --count 600 --seed 1 --diagram reliability.svg
    python -m calibration.fit.photographs FOLDER

`discs.py` draws what truly is on a disc, `truth.py` plays it in drives, `seen.py` tells what a photograph would show.
"""
