"""The line pictures that a fix may name, and what each one shows.

Cast: `PICTURES`. The sheet has a drawing for each (`front/sheet/pictures.py`).
"""

from __future__ import annotations

from typing import Final

PICTURES: Final = {
    "barrel": "a barrel adjuster: out is tighter",
    "caliper": "a disc caliper from above: the same gap on both sides, its bolts in turn",
    "chain-length": "the chain round the largest ring and sprocket, and one pair of links more",
    "cones": "a hub's cone held while its lock nut is turned",
    "cross": "six bolts tightened in turn across",
    "disc": "a disc bent back a little at the marked place",
    "face-plate": "the four bolts of a face plate, with the gap above and below",
    "gap": "the gap between the top of the steerer and the cap",
    "pads": "a rim pad from above, its front touching first",
    "pedals": "which way pedals are screwed in",
    "plug": "a plug through the tread",
    "preload": "the top cap first, then the stem's clamp bolts in turn",
    "sag": "the ring on a stanchion, and the way that is the sag",
    "seated": "an axle right up in both slots, then closed",
    "slack": "the slack of a chain, up and down together",
    "stops": "the end screws of a mech, seen from behind",
    "true-wheel": "which spokes pull a rim which way",
    "upper-gap": "the gap between the largest sprocket and the upper wheel",
}
"""Name to what it shows."""
