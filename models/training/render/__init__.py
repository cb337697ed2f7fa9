"""Renders photographs of discs with exact truth, for training and testing. Needs torch; `discscan` never imports it.

scene = sample_scene(np.random.default_rng(1), Ranges.load(), width_px=1600, height_px=1200)
bgr, truth = render(scene, device="cuda")
"""

from __future__ import annotations

from typing import Any


def __getattr__(name: str) -> Any:
    """Public names, fetched late: the geometry and the truth can be used without torch."""
    from importlib import import_module

    homes = {
        "sample_scene": "scene",
        "sample_disc": "disc",
        "Scene": "scene",
        "Ranges": "ranges",
        "render": "picture",
        "photograph": "picture",
        "Truth": "truth",
    }
    if name not in homes:
        raise AttributeError(name)
    return getattr(import_module(f"{__name__}.{homes[name]}"), name)
