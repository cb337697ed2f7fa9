"""Photographs of discs drawn by a second code, with lamps, scratches and a camera of its own, to learn from.

Up to training 26 nothing was trained, fitted or chosen on them; nets have learned from seed 5001 since, and seed 5002
calibrates them, so that others tell how well it is known, not what the nets are worth elsewhere: `fourth_light` does.
Every photograph shows one disc, data side up.

`optics.py`: formulas of light at a disc; `view.py`: where the camera stands; `room.py`: the light from all sides;
`person.py`: that light with who holds the camera before it; `lines.py`, `areas.py`: damage and dirt; `disc.py`: one
disc at random; `table.py`: what it lies on; `surface.py`: the picture of the disc without lines; `marks.py`: lines,
cracks and dust on it; `camera.py`: from light to JPEG; `truth.py`: what is written beside it; `photograph.py` joins
them all.
Where no source stands beside a number it was chosen by eye (common practice, no source).
"""
