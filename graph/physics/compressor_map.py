"""A compressor map of speed lines: wheel speed, surge and largest flow between the lines, an ellipse of efficiency."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from graph.model import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One speed line, from surge to choke.

    Parameters
    ----------
    speed : float
        Corrected speed of the wheel [1/s].
    flow : tuple of float
        Corrected flows, rising [kg/s].
    ratio : tuple of float
        Pressure ratios there [1].
    efficiency : tuple of float
        [1]
    """

    speed: float
    flow: tuple[float, ...]
    ratio: tuple[float, ...]
    efficiency: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """Efficiency as a peak less a quadratic form; the fields are those of :func:`graph.physics.compressor.efficiency_at`."""

    peak: float
    best_flow: float
    best_ratio: float
    flow_fall: float
    cross: float
    ratio_fall: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedMap:
    """Speed lines in rising order of speed; none crosses another.

    Parameters
    ----------
    lines : tuple of Line
        At least three.
    fan : tuple of Line
        The lines with others drawn between them; the lines alone where it is empty.
    """

    lines: tuple[Line, ...]
    fan: tuple[Line, ...] = ()

    @property
    def highest_speed(self) -> float:
        """Speed of the last line [1/s]: the highest that its maker shows."""
        return self.lines[-1].speed

    def surge_flow(self, ratio: Array | float) -> Array:
        """Smallest flow at a pressure ratio: straight between the left ends of the lines, held at the outermost.

        Parameters
        ----------
        ratio : array
            [1]

        Returns
        -------
        array
            Corrected [kg/s].
        """
        ends = [(line.ratio[0], line.flow[0]) for line in self.lines]
        return np.asarray(np.interp(ratio, [r for r, _ in ends], [f for _, f in ends]))

    def largest_flow(self, ratio: Array | float) -> Array:
        """Largest flow at a pressure ratio: that of the last line, whether choke or its speed ends it.

        Parameters
        ----------
        ratio : array
            [1]

        Returns
        -------
        array
            Corrected [kg/s]; above the last line's highest ratio the flow of that point.
        """
        last = self.lines[-1]
        top = int(np.argmax(last.ratio))
        return np.asarray(np.interp(ratio, last.ratio[top:][::-1], last.flow[top:][::-1]))

    def speed_at(self, flow: Array | float, ratio: Array | float) -> Array:
        """Wheel speed at a working point.

        Parameters
        ----------
        flow : array
            Corrected [kg/s].
        ratio : array
            [1]

        Returns
        -------
        array
            Corrected [1/s]. Between two lines of the sheet further ones are drawn by similarity: ends that move with
            the speed, a pressure rise with its square; between those straight in the square of the speed, and drawn on
            in the same way beyond the last line and below the first.
        """
        lines = self.fan or self.lines
        at, wanted = np.broadcast_arrays(np.asarray(flow, dtype=float), np.asarray(ratio, dtype=float))
        heights = np.stack([_height(line, at) for line in lines])
        squares = np.array([line.speed**2 for line in lines])
        above = np.clip((heights < wanted).sum(axis=0), 1, len(lines) - 1)
        low = np.take_along_axis(heights, above[None] - 1, axis=0)[0]
        high = np.take_along_axis(heights, above[None], axis=0)[0]
        share = (wanted - low) / np.maximum(high - low, 1e-9)
        square = squares[above - 1] + share * (squares[above] - squares[above - 1])
        return np.asarray(np.sqrt(np.maximum(square, 0.0)))

    def efficiency_at(self, flow: Array | float, ratio: Array | float) -> Array:
        """Efficiency at a working point, straight between the two lines around it.

        Parameters
        ----------
        flow : array
            Corrected [kg/s].
        ratio : array
            [1]

        Returns
        -------
        array
            [1]
        """
        lines = self.fan or self.lines
        square = self.speed_at(flow, ratio) ** 2
        at = np.broadcast_to(np.asarray(flow, dtype=float), square.shape)
        squares = np.array([line.speed**2 for line in lines])
        across = np.stack([np.interp(at, line.flow, line.efficiency) for line in lines])
        above = np.clip(np.searchsorted(squares, square), 1, len(lines) - 1)
        share = np.clip((square - squares[above - 1]) / (squares[above] - squares[above - 1]), 0.0, 1.0)
        low = np.take_along_axis(across, above[None] - 1, axis=0)[0]
        high = np.take_along_axis(across, above[None], axis=0)[0]
        return np.asarray(low + share * (high - low))

    def ellipse(self) -> Ellipse:
        """Efficiency of the map as an ellipse, by least squares over its points.

        Returns
        -------
        Ellipse
            With the largest distance of a point from it; flat at the mean where the points have no peak.
        """
        flow = np.array([f for line in self.lines for f in line.flow])
        root = np.sqrt([r for line in self.lines for r in line.ratio])
        value = np.array([e for line in self.lines for e in line.efficiency])
        scale = flow.max()
        m = flow / scale
        terms = np.stack([np.ones_like(m), m, root, m * m, m * root, root * root], axis=1)
        k = np.linalg.lstsq(terms, value, rcond=None)[0]
        bend = np.array([[2.0 * k[3], k[4]], [k[4], 2.0 * k[5]]])
        if np.linalg.eigvalsh(bend).max() >= -1e-9:
            return _flat(value, flow, root)
        best = np.linalg.solve(bend, -k[1:3])
        if best[0] <= 0.05 or best[1] <= 0.8:
            return _flat(value, flow, root)
        peak = float(k[0] + 0.5 * (k[1] * best[0] + k[2] * best[1]))
        return Ellipse(
            peak=peak,
            best_flow=float(best[0] * scale),
            best_ratio=float(best[1]),
            flow_fall=float(-k[3] * best[0] ** 2),
            cross=float(-0.5 * k[4] * best[0]),
            ratio_fall=float(-k[5]),
            error=float(np.abs(terms @ k - value).max()),
        )


def _flat(value: Array, flow: Array, root: Array) -> Ellipse:
    mean = float(value.mean())
    return Ellipse(
        peak=mean,
        best_flow=float(flow.mean()),
        best_ratio=float(root.mean()),
        flow_fall=0.0,
        cross=0.0,
        ratio_fall=0.0,
        error=float(np.abs(value - mean).max()),
    )


def _height(line: Line, flow: Array) -> Array:
    """Pressure ratio of a line at a flow: level beyond surge, falling steeply to nothing beyond choke."""
    inside = np.interp(flow, line.flow, line.ratio)
    beyond = np.maximum(flow / line.flow[-1] - 1.0, 0.0)
    return np.asarray(inside - (line.ratio[-1] - 1.0) * 20.0 * beyond)


def wheel_speed(
    made: SpeedMap,
    flow: Array | float,
    temperature: Array | float,
    pressure: Array | float,
    ratio: Array | float,
    reference_temperature: float,
    reference_pressure: float,
) -> Array:
    """Real speed of the wheel at a working point.

    Parameters
    ----------
    made : SpeedMap
        The map [SI].
    flow : array
        [kg/s]
    temperature, pressure : array
        At the compressor inlet [K], absolute [Pa].
    ratio : array
        Pressure ratio [1].
    reference_temperature, reference_pressure : float
        Of the map [K], absolute [Pa].

    Returns
    -------
    array
        [1/s]

    References
    ----------
    Similarity of turbomachines: speed over the root of the inlet temperature (Dixon and Hall, ch. 2, from memory).

    Examples
    --------
    >>> rows = ((1.0, 1.5), (2.0, 2.0), (3.0, 2.8))
    >>> lines = tuple(Line(speed=s, flow=(0.1, 0.2, 0.3), ratio=(r, r, r), efficiency=(0.7,) * 3) for s, r in rows)
    >>> round(float(wheel_speed(SpeedMap(lines=lines), 0.2, 316.0, 1e5, 2.0, 298.0, 1e5)), 4)
    2.0595
    """
    square = np.asarray(temperature) / reference_temperature
    corrected = np.asarray(flow) * np.sqrt(square) / (np.asarray(pressure) / reference_pressure)
    return np.asarray(made.speed_at(corrected, ratio) * np.sqrt(square))
