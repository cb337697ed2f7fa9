"""Arcs -> ellipses that might be a circle of some disc."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from discscan.calibration import setting
from discscan.locate.arcs import Arc, EdgeMap
from discscan.locate.conics import ellipse_from_box
from discscan.records import Ellipse, FloatArray

SAMPLES = 144
"""Points on an ellipse at which its support is tried."""


@dataclass(frozen=True)
class Proposal:
    """An ellipse with the share of its turn on which an aligned edge lies."""

    ellipse: Ellipse
    support: float


def propose_ellipses(arcs: list[Arc], edges: EdgeMap) -> list[Proposal]:
    """Ellipses through single long arcs and through pairs of arcs, best supported first, near-doubles dropped."""
    height, width = edges.edge.shape
    ellipses: list[Ellipse] = []
    single = setting("locate", "single_arc_turn_deg")
    for arc in arcs:
        if arc.turn_deg >= single and len(arc.points) >= 20:
            ellipses += _fit(arc.points, width, height)
    for i, j in _compatible_pairs(arcs):
        ellipses += _fit(np.concatenate([_thin(arcs[i].points), _thin(arcs[j].points)]), width, height)
    proposals = distinct(ellipses, edges)
    refitted: list[Ellipse] = []
    for proposal in proposals[: int(setting("locate", "max_proposals"))]:
        refitted += refit(proposal.ellipse, edges)
    return distinct([p.ellipse for p in proposals] + refitted, edges)


def refit(ellipse: Ellipse, edges: EdgeMap) -> list[Ellipse]:
    """The ellipse through the aligned edges near this one, if there are enough of them."""
    height, width = edges.edge.shape
    hit, col, row = _hits([ellipse], edges, reach_px=3)
    near = np.unique(np.stack([col[hit], row[hit]], axis=1), axis=0).astype(np.float32)
    return _fit(near, width, height, robust=False) if len(near) >= 12 else []


def support_of(ellipses: list[Ellipse], edges: EdgeMap, *, reach_px: int = 2) -> FloatArray:
    """Share of each ellipse's turn with an edge within `reach_px` whose normal is the ellipse's, float64 (n,).

    Points outside the picture count as unsupported.
    """
    if not ellipses:
        return np.zeros(0)
    hit, _, _ = _hits(ellipses, edges, reach_px=reach_px)
    return np.asarray(hit.any(axis=2).mean(axis=1))


def distinct(ellipses: list[Ellipse], edges: EdgeMap) -> list[Proposal]:
    """Keep the best supported of each group of ellipses that nearly coincide."""
    support = support_of(ellipses, edges)
    order = np.argsort(-support, kind="stable")
    least, nearness = setting("locate", "min_proposal_support"), setting("locate", "same_ellipse_px")
    kept: list[Proposal] = []
    outlines: list[FloatArray] = []
    for index in order:
        if support[index] < least:
            break
        # eight points about the ellipse tell two of them apart without comparing angles of near-circles
        outline = _anchor_points(ellipses[index])
        if outlines and (np.abs(np.array(outlines) - outline).max(axis=1) < nearness).any():
            continue
        outlines.append(outline)
        kept.append(Proposal(ellipses[index], float(support[index])))
    return kept


def _anchor_points(ellipse: Ellipse) -> FloatArray:
    """Extent of the ellipse along eight directions, float64 (8,): support function values, robust for near-circles."""
    t = np.arange(8) * (np.pi / 4)
    c, s = np.cos(np.radians(ellipse.angle_deg)), np.sin(np.radians(ellipse.angle_deg))
    along = np.cos(t) * c + np.sin(t) * s
    across = -np.cos(t) * s + np.sin(t) * c
    reach = np.hypot(0.5 * ellipse.axis_major * along, 0.5 * ellipse.axis_minor * across)
    return np.asarray(np.cos(t) * ellipse.cx + np.sin(t) * ellipse.cy + reach)


def _thin(points: np.ndarray, most: int = 24) -> np.ndarray:
    if len(points) <= most:
        return points
    return points[np.linspace(0, len(points) - 1, most).astype(int)]


def _fit(points: np.ndarray, width: int, height: int, *, robust: bool = True) -> list[Ellipse]:
    """The ellipse through points, if it is one that a disc may make and the points lie on it; else nothing."""
    box = cv2.fitEllipseDirect(points) if robust else cv2.fitEllipseAMS(points)
    if not np.isfinite([*box[0], *box[1], box[2]]).all() or min(box[1]) < setting("locate", "min_axis_px"):
        return []
    ellipse = ellipse_from_box(box)
    if ellipse.axis_minor < setting("locate", "min_axis_ratio") * ellipse.axis_major:
        return []
    if ellipse.axis_major > setting("locate", "max_axis_of_photo") * max(width, height):
        return []
    # distance from the ellipse, to first order (Sampson)
    c, s = np.cos(np.radians(ellipse.angle_deg)), np.sin(np.radians(ellipse.angle_deg))
    dx, dy = points[:, 0] - ellipse.cx, points[:, 1] - ellipse.cy
    a, b = 0.5 * ellipse.axis_major, 0.5 * ellipse.axis_minor
    u, v = (dx * c + dy * s) / a, (-dx * s + dy * c) / b
    distance = np.abs(u * u + v * v - 1.0) / (2.0 * np.hypot(u / a, v / b) + 1e-9)
    if distance.mean() > setting("locate", "max_fit_distance_px"):
        return []
    return [ellipse]


def _compatible_pairs(arcs: list[Arc]) -> list[tuple[int, int]]:
    """Pairs of arcs that bend towards each other, as two arcs of one ellipse must; the longest first."""
    if len(arcs) < 2:
        return []
    weight = np.array([len(a.points) for a in arcs])
    order = np.argsort(-weight, kind="stable")[: int(setting("locate", "max_paired_arcs"))]
    first = np.array([arcs[k].points[0] for k in order], dtype=float)
    middle = np.array([arcs[k].points[len(arcs[k].points) // 2] for k in order], dtype=float)
    last = np.array([arcs[k].points[-1] for k in order], dtype=float)
    inward = 0.5 * (first + last) - middle
    sagitta = np.maximum(np.hypot(*inward.T), 1e-6)
    inward /= sagitta[:, None]
    chord = np.hypot(*(last - first).T)
    radius = chord**2 / (8.0 * sagitta) + 0.5 * sagitta
    points = np.stack([first, middle, last], axis=1)
    # every point of the other arc lies inside this arc's tangent, and not farther than a wide ellipse reaches
    depth = np.einsum("jpk,ik->ijp", points, inward) - np.einsum("ik,ik->i", middle, inward)[:, None, None]
    inside = (depth > -2.0).all(axis=2)
    ratio = np.log(radius[:, None] / radius[None, :])
    stretch = setting("locate", "max_radius_ratio")
    far = np.hypot(*(middle[:, None] - middle[None, :]).transpose(2, 0, 1))
    near = far < 2.6 * np.maximum(radius[:, None], radius[None, :])
    good = inside & inside.T & near & (np.abs(ratio) < np.log(stretch))
    i, j = np.nonzero(np.triu(good, 1))
    length = weight[order]
    best = np.argsort(-(length[i] + length[j]), kind="stable")[: int(setting("locate", "max_pairs"))]
    return [(int(order[i[k]]), int(order[j[k]])) for k in best]


def _hits(
    ellipses: list[Ellipse], edges: EdgeMap, *, reach_px: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where edges support the ellipses: bool (n, SAMPLES, 2 reach + 1), and the pixel columns and rows tried."""
    height, width = edges.edge.shape
    t = np.arange(SAMPLES) * (2.0 * np.pi / SAMPLES)
    e = np.array([(q.cx, q.cy, q.axis_major / 2, q.axis_minor / 2, np.radians(q.angle_deg)) for q in ellipses])
    c, s = np.cos(e[:, 4:5]), np.sin(e[:, 4:5])
    u, v = e[:, 2:3] * np.cos(t), e[:, 3:4] * np.sin(t)
    x, y = e[:, 0:1] + c * u - s * v, e[:, 1:2] + s * u + c * v
    nu, nv = np.cos(t) / e[:, 2:3], np.sin(t) / e[:, 3:4]
    length = np.hypot(nu, nv)
    nx, ny = (c * nu - s * nv) / length, (s * nu + c * nv) / length
    step = np.arange(-reach_px, reach_px + 1)
    col = np.rint(x[..., None] + nx[..., None] * step).astype(np.intp)
    row = np.rint(y[..., None] + ny[..., None] * step).astype(np.intp)
    inside = (col >= 0) & (col < width) & (row >= 0) & (row < height)
    col, row = np.clip(col, 0, width - 1), np.clip(row, 0, height - 1)
    aligned = np.abs(edges.nx[row, col] * nx[..., None] + edges.ny[row, col] * ny[..., None])
    hit = inside & edges.edge[row, col] & (aligned > setting("locate", "min_alignment"))
    return hit, col, row
