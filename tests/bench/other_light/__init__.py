"""Photographs of discs drawn by other physics code than what the nets were trained on, with other lamps.

Nothing was ever trained, fitted or chosen on them; keep it so. Every photograph shows one disc, data side up.

`optics.py`: formulas of light at a disc; `view.py`: where the camera stands; `room.py`: the light from all sides;
`person.py`: that light with who holds the camera before it; `lines.py`, `areas.py`: damage and dirt; `disc.py`: one
disc at random; `table.py`: what it lies on; `surface.py`: the picture of the disc without lines; `marks.py`: lines,
cracks and dust on it; `camera.py`: from light to JPEG; `truth.py`: what is written beside it; `photograph.py` joins
them all.
Where no source stands beside a number it was chosen by eye (common practice, no source).
"""
