"""Photographs of discs drawn by a sixth code, to measure on: no net may learn from them.

Every photograph shows one disc, data side up. Its optics, rooms, damage and camera were thought out without a look at
`models/training/render`, `third_light`, `fourth_light` and `fifth_light`; from `other_light` come the records of view,
flat grid, lines and truth, the standards' numbers and smooth random shapes.

The room is a hemisphere painted over the plane of sines, where a mirror turns a sign and each order of the track adds
m lambda / d along the radius; what is near (phone, hand, head, boards) hangs before it on cards. Everything looks into
it: the mirror sharply, the track through every wavelength, a groove's walls, lips and torn faces each aside, the
table with all of it.

`light.py`: Snell, Fresnel, the grating, thin films; `panorama.py`: the hemisphere and cards, and looking into them;
`sketch.py`, `places.py`: kinds of places; `beholder.py`: who takes the photograph; `pose.py`: from where; `makes.py`:
one disc at random; `strokes.py`: scratches, arcs, polish; `breaks.py`: cracks; `soil.py`: grease, lime, dust, hairs;
`parting.py`: parted layers; `hub.py`: codes and moulded letters; `face.py`: a disc's light without thin things;
`ink.py`: thin things on it; `brush.py`, `table.py`: what it lies on; `fingers.py`: what holds it; `camera.py`: from
radiance to JPEG; `photograph.py` joins them all.

The `contrast` of a line: |groove - ground| / ground, both being luminances (Rec. 709) in linear light after exposure,
cut at white (1), and the ground not below 0.02; the median over the places of the line that the photograph shows and
that are deeper than a tenth of the most; at most 1. The groove is the mean of its two walls, whose changes are taken
apart where it is wider than a pixel and a half. It is reckoned before lens, noise and JPEG, without lips and without
the line's image in the mirror, and not less for lines thinner than a pixel: `score.py` sees to that.

Where no source stands beside a number it was chosen by eye (common practice, no source).
"""
