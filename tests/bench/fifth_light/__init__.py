"""Photographs of discs drawn by a fifth code. Until training 37 no net had learned from any, since then from seed 5501.

Which other seeds were looked at or chosen on, DEVELOPERS.md tells.

Every photograph shows one disc, data side up but for a share that may be asked for. Its optics, rooms, damage and
camera were thought out without a look at `models/training/render`, `third_light` and `fourth_light`; from
`other_light` come the records of view, flat grid, lines and truth, the standards' numbers and smooth random shapes.
The room is made of painted cards in space, looked at by the rays that the disc mirrors; the grating, grooves and the
table ask only a list of round lamps that stands for the bright cards, in closed form.

`cards.py`: cards and lamps, and what a mirror shows of them; `paint.py`: pictures on cards; `rooms.py`: homes, halls,
yards; `photographer.py`: who takes the photograph; `pose.py`: where the camera stands; `optics.py`: Snell, Fresnel,
the grating; `fan.py`: the track's colours; `stock.py`: makes of discs; `disc.py`: one disc at random; `wear.py`:
scratches, arcs, polish; `fracture.py`: cracks and pieces; `grime.py`: grease, dust, hairs; `decay.py`: parted layers;
`hub.py`: what lies at each radius, moulded rings, codes; `surface.py`: a disc's light without lines;
`groovelight.py`: a groove's light; `splat.py`: thin things on pixels; `pen.py`: lines, cracks and dust on the disc;
`label.py`, `label_side.py`: prints and their wounds; `ground.py`, `table.py`: what the disc lies on, and what lies
beside it; `hand.py`: fingers; `camera.py`: from radiance to JPEG; `photograph.py` joins them all.

The `contrast` of a line: at each of its points that the photograph shows and that are deeper than a tenth of the
most, |groove - ground| / ground, where both are luminances (Rec. 709) in the photograph's linear light after
exposure, cut at white (1) and the ground not below 0.02; times the share of a pixel that the groove covers there, at
most 1; the mean of that along the line, at most 1. It is reckoned before lens, noise and JPEG, and without the line's
mirror image. That of a wound of a print is the mean of |wound - print| / print, both not exposed, over the pixels
that it covers by a fifth. Where no source stands beside a number it was chosen by eye (common practice, no source).
"""
