"""Photographs of discs drawn by a fourth code, to measure on and, with seeds from 4001 on, to learn from.

Which seeds were looked at or chosen on, DEVELOPERS.md tells; the damage net has learned from others since training 33.

Every photograph shows one disc, data side up unless labels are asked for. Its optics, rooms, damage and camera were
thought out without a look at `models/training/render` or at what `other_light` and `third_light` draw; from
`other_light` come only the records of view, flat grid, lines and truth, and its random shapes. Labels are printed as
`third_light` has them, from which nets have learned: seen in other light, they are no unseen ones.

`around.py`: all that shines, in one picture of the half space above; `rooms.py`, `lamps.py`: homes, halls, yards there;
`person.py`: who takes the photograph; `view.py`: where the camera stands; `optics.py`: Fresnel, Snell, the grating;
`lines.py`, `cracks.py`: scratches, arcs, swirl, breaks; `dirt.py`: grease and dust; `parted.py`: parted layers;
`disc.py`: one disc at random; `table.py`, `clutter.py`: what it lies on; `strokes.py`: how much of a pixel a line
covers; `ground.py`: the bare disc's light; `hub.py`: what is moulded about the hole; `grooves.py`: a line's light;
`marks.py`: lines, dust and stickers on the disc; `camera.py`: from light to eight bits; `photograph.py` joins them all.

The `contrast` of a line: at each of its points that the photograph shows and that are deeper than a tenth of the most,
|groove - ground| / ground, where both are luminances (Rec. 709) in the photograph's linear light after exposure, cut at
white (1) and the ground not below 0.02; times the share of a pixel that the groove covers there, at most 1; the mean of
that along the line, at most 1. It is reckoned before lens, noise and JPEG, and without the line's mirror image.
Where no source stands beside a number it was chosen by eye (common practice, no source).
"""
