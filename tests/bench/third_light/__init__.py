"""Photographs of discs drawn by a third code, to look at, choose on and learn from; `fourth_light` is measured on.

Every photograph shows one disc, data side up unless labels are asked for. Optics, room, damage and camera share nothing
with `models/training/render`, nor with `other_light`: from there come only the records of view and flat grid, and the
truth.

`view.py`: where the camera stands; `room.py`: a box with windows and lamps; `person.py`: who holds the camera before
it; `optics.py`: what disc and grooves reflect; `damage.py`: lines and cracks; `dirt.py`: dust, grease, parted layers;
`label.py`: the printed side; `disc.py`: one disc at random; `table.py`: what it lies on; `strokes.py`: fine lines,
exact in area; `hub.py`: what is moulded and printed about the hole; `surface.py`: the disc's picture; `camera.py`: from
light to eight bits; `photograph.py` joins them all.
The contrast of a line is reckoned before the lens blurs it, so that more lines count as showing than do.
Where no source stands beside a number it was chosen by eye (common practice, no source).
"""
