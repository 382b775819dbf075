"""Potential of one flat triangle with a layer of sources or of dipoles, in closed form."""

from __future__ import annotations

import math

from firstoff.physics.jit import njit
from firstoff.physics.ranges import FloatArray

TINY = 1e-300


@njit("void(f8[::1], f8[:, ::1], f8[::1], f8, f8[::1])")
def triangle_potentials(x: FloatArray, corners: FloatArray, normal: FloatArray, area: float, out: FloatArray) -> None:
    """Potentials at x of a triangle's layers, Green's function 1/(4 pi r).

    out[0] = integral of 1/(4 pi r) dS = (sum_k d_k L_k - |h| |Omega|)/(4 pi);
    out[1 + j] = integral of lambda_j d/dn_y 1/(4 pi r) dS
               = (-Omega lambda_j(p) - h grad(lambda_j) . sum_k m_k L_k)/(4 pi).

    h = n.(x - a) height, p foot of x, d_k distance and m_k outward normal of edge k in the plane,
    L_k = ln((r1 + r2 + l)/(r1 + r2 - l)), Omega solid angle, lambda_j hat of corner j: 1 there, linear.

    x (3,) [m]; corners (3, 3) [m] anticlockwise about normal (3,), unit; area [m2]; out (4,) [m], then [1]. Source:
    Wilton et al. 1984 (from memory); solid angle of van Oosterom and Strackee 1983 (from memory).
    """
    ax, ay, az = corners[0, 0] - x[0], corners[0, 1] - x[1], corners[0, 2] - x[2]
    bx, by, bz = corners[1, 0] - x[0], corners[1, 1] - x[1], corners[1, 2] - x[2]
    cx, cy, cz = corners[2, 0] - x[0], corners[2, 1] - x[1], corners[2, 2] - x[2]
    ra, rb, rc = math.sqrt(ax * ax + ay * ay + az * az), math.sqrt(bx * bx + by * by + bz * bz), 0.0
    rc = math.sqrt(cx * cx + cy * cy + cz * cz)
    nx, ny, nz = normal[0], normal[1], normal[2]
    h = -(nx * ax + ny * ay + nz * az)
    triple = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    ab, bc, ca = ax * bx + ay * by + az * bz, bx * cx + by * cy + bz * cz, cx * ax + cy * ay + cz * az
    omega = 2.0 * math.atan2(triple, ra * rb * rc + ab * rc + bc * ra + ca * rb)
    if abs(h) < 1e-12 * (ra + rb + rc):
        omega = 0.0  # in the plane: the mean of both sides
    single = -abs(h) * abs(omega)
    wx = wy = wz = 0.0
    for k in range(3):
        if k == 0:
            px, py, pz, qx, qy, qz, r1, r2 = ax, ay, az, bx, by, bz, ra, rb
        elif k == 1:
            px, py, pz, qx, qy, qz, r1, r2 = bx, by, bz, cx, cy, cz, rb, rc
        else:
            px, py, pz, qx, qy, qz, r1, r2 = cx, cy, cz, ax, ay, az, rc, ra
        ex, ey, ez = qx - px, qy - py, qz - pz
        length = math.sqrt(ex * ex + ey * ey + ez * ez)
        ex, ey, ez = ex / length, ey / length, ez / length
        mx, my, mz = ey * nz - ez * ny, ez * nx - ex * nz, ex * ny - ey * nx
        log = math.log((r1 + r2 + length) / max(r1 + r2 - length, 1e-15 * length + TINY))
        single += (mx * px + my * py + mz * pz) * log
        wx, wy, wz = wx + mx * log, wy + my * log, wz + mz * log
    quarter = 1.0 / (4.0 * math.pi)
    out[0] = single * quarter
    for j in range(3):
        if j == 0:
            ex, ey, ez, fx, fy, fz = cx - bx, cy - by, cz - bz, bx, by, bz
        elif j == 1:
            ex, ey, ez, fx, fy, fz = ax - cx, ay - cy, az - cz, cx, cy, cz
        else:
            ex, ey, ez, fx, fy, fz = bx - ax, by - ay, bz - az, ax, ay, az
        gx = (ny * ez - nz * ey) / (2.0 * area)
        gy = (nz * ex - nx * ez) / (2.0 * area)
        gz = (nx * ey - ny * ex) / (2.0 * area)
        # the hat is 0 on the opposite edge, which holds the corner f; seen from x, the foot is h n away
        hat = -(gx * fx + gy * fy + gz * fz)
        out[1 + j] = (-omega * hat - h * (gx * wx + gy * wy + gz * wz)) * quarter
