"""Turn one skyline and one horizon into residuals and their derivatives.

Symbols
-------
X, Y : sample position on the plate over the scan's diagonal, Y up
c : principal distance over the scan's diagonal
b, tau, rho : bearing, tilt, roll [rad]
v, w : rise and cross (trim included) over the diagonal
alpha : bearing of a sample from the lens axis [rad]
T : tangent of a sample's elevation above the horizontal, from the camera
t, d : tangent of the computed horizon at the sample's bearing, its distance [m]
r = T - t : residual

The back-projected form is exact for any tilt and roll: nothing is linear but
the derivatives. Conventions: ``docs/conventions.md``.
"""

from __future__ import annotations

from math import atan2, cos, exp, floor, pi, sin, sqrt

import numba

from wherestood.evidence.unknowns import CAMERA, UNKNOWN_M, UNKNOWN_TANGENT

__all__ = ["fill_residuals"]


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def fill_residuals(  # type: ignore[no-untyped-def]
    theta, samples, profile, curvature_per_m, residual, jacobian, noise
):
    """Fill residuals, derivatives and noise terms of all samples.

    ``samples`` has the columns X, Y, standard error, and the second and third
    order warp; ``noise`` receives 1/d of the horizon that sets the noise, the
    ground step from the sample before, the tracing error, the slope, T, and the turn
    from the sample before [rad]; 1/d is 0 where no horizon is known.
    """
    bearings = profile.shape[0]
    spacing = 2.0 * pi / bearings
    b = theta[0]
    c = exp(theta[1])
    st = sin(theta[2])
    ct = cos(theta[2])
    sr = sin(theta[3])
    cr = cos(theta[3])
    v = theta[4]
    w = theta[5]
    k1 = theta[6]
    before_alpha = 0.0
    before_d = 0.0
    for n in range(samples.shape[0]):
        plate_x = samples[n, 0]
        plate_y = samples[n, 1]
        x_axis = plate_x + w
        y_axis = (
            plate_y * (1.0 + theta[7])
            + samples[n, 3] * theta[8]
            + samples[n, 4] * theta[9]
            + v
        )
        # Radius over the half-diagonal, hence the 4.
        r2 = 4.0 * (x_axis * x_axis + y_axis * y_axis)
        lens = 1.0 + k1 * r2
        x = x_axis * lens
        y = y_axis * lens
        a = x * cr + y * sr
        e = -x * sr + y * cr
        forward = c * ct - e * st
        up = c * st + e * ct
        h2 = a * a + forward * forward
        h = sqrt(h2)
        alpha = atan2(a, forward)

        # The horizon there, linear between computed bearings.
        position = (b + alpha) / spacing
        position -= floor(position / bearings) * bearings
        i = int(position)
        if i >= bearings:
            i = 0
            position -= bearings
        part = position - i
        j = i + 1 if i + 1 < bearings else 0
        before = i - 1 if i > 0 else bearings - 1
        after = j + 1 if j + 1 < bearings else 0
        t = profile[i, 0] * (1.0 - part) + profile[j, 0] * part
        # Slope over three spacings: a crossing of ridges makes a shorter one jump.
        slope = (
            0.5
            * (
                (profile[j, 0] - profile[i, 0])
                + (profile[after, 0] - profile[before, 0]) / 3.0
            )
            / spacing
        )
        near = i if part < 0.5 else j
        d = profile[near, 1]
        known = profile[near, 2] < 0.5 * UNKNOWN_M
        if not known:
            t = UNKNOWN_TANGENT
            slope = 0.0

        # Every camera column is d(T) - t' d(alpha) for its (da, dforward, dup).
        residual[n] = up / h - t
        jacobian[n, 0] = -slope
        df = c * ct
        d_alpha = -a * df / h2
        d_t = c * st / h - up * forward * df / (h2 * h)
        jacobian[n, 1] = d_t - slope * d_alpha
        d_alpha = a * up / h2
        d_t = forward / h + up * forward * up / (h2 * h)
        jacobian[n, 2] = d_t - slope * d_alpha
        df = a * st
        d_alpha = (forward * e - a * df) / h2
        d_t = -a * ct / h - up * (a * e + forward * df) / (h2 * h)
        jacobian[n, 3] = d_t - slope * d_alpha
        df = -cr * st
        y_t = cr * ct / h - up * (a * sr + forward * df) / (h2 * h)
        per_y = (y_t - slope * (forward * sr - a * df) / h2) * lens
        df = sr * st
        x_t = -sr * ct / h - up * (a * cr + forward * df) / (h2 * h)
        per_x = (x_t - slope * (forward * cr - a * df) / h2) * lens
        jacobian[n, 4] = per_y
        jacobian[n, 5] = per_x
        jacobian[n, 6] = (per_x * x_axis + per_y * y_axis) * r2
        jacobian[n, 7] = per_y * plate_y
        jacobian[n, 8] = per_y * samples[n, 3]
        jacobian[n, 9] = per_y * samples[n, 4]

        # Cover m lifts the true skyline by m / d: r - m / d is noise.
        span = 4.0 * plate_x
        inverse = 1.0 / profile[near, 2]
        jacobian[n, CAMERA] = -inverse
        jacobian[n, CAMERA + 1] = -inverse * span
        jacobian[n, CAMERA + 2] = -inverse * (span * span - 0.8)
        jacobian[n, CAMERA + 3] = -d * curvature_per_m
        jacobian[n, CAMERA + 4] = -profile[near, 3]
        jacobian[n, CAMERA + 5] = -profile[near, 4]

        if not known:
            inverse = 0.0
            for p in range(CAMERA, CAMERA + 6):
                jacobian[n, p] = 0.0
        noise[n, 0] = inverse
        if n > 0:
            across = 0.5 * (d + before_d) * (alpha - before_alpha)
            along = d - before_d
            noise[n, 1] = sqrt(across * across + along * along)
        else:
            noise[n, 1] = 1e9
        noise[n, 2] = samples[n, 2] * abs(y_t)
        noise[n, 3] = slope
        noise[n, 4] = up / h
        noise[n, 5] = abs(alpha - before_alpha) if n > 0 else 1e9
        before_alpha = alpha
        before_d = d
