"""The demo site's store in three dimensions: finite volumes written apart from the plant, truth for its walls and earth.

    python tests/reference/cellar.py [--steady] [NAME=NUMBER ...]

Needs numpy and scipy only; NAME is one of the numbers below, such as WIDTH=5. A quarter of a room of 3.6 by 6.0 m, 2.1 m high, its floor 2.2 m below the ground, in earth that
reaches 18 m sideways and down. Stone walls, a concrete floor with its tube plane in the middle, one node of air; no heat through
the ceiling. The ground's surface outside carries the yearly wave; the start is Kusuda's undisturbed ground. Prints, for each
month, what `host-sim/engine/src/plant/store/tests.rs` compares the store with.
"""

import sys

import numpy as np
from scipy.sparse import coo_matrix, diags
from scipy.sparse.linalg import splu

WIDTH, LENGTH, DEPTH, HEIGHT = 3.6, 6.0, 2.2, 2.1
WALL, WALL_K, WALL_C = 0.40, 2.0, 2.0e6
EARTH_K, EARTH_C = 1.5, 2.2e6
SLAB, SLAB_K, SLAB_C = 0.10, 1.8, 2.1e6
AIR_J_K = 45.0 * 1278.0 + 1.0e6
# A floor colder than the air; one about 1 K warmer (8.92 times the tenth root of the difference); walls.
COLD_FILM, WARM_FILM, WALL_FILM = 5.1, 8.92, 1 / 0.13
MEAN_C, COLDEST_DAY = 7.8, 35.0
FAR = 18.0
YEAR = 365.0
FINE = 1.0  # cells for each cell of the usual grid, along an edge
for word in sys.argv[1:]:
    if "=" in word:
        name, number = word.split("=")
        assert name in globals(), name
        globals()[name] = float(number)


def grow(first, growth, total):
    """Cells from `first` growing by `growth` that fill `total`."""
    d = [first]
    while sum(d) < total:
        d.append(d[-1] * growth)
    return np.array(d) * total / sum(d)


def shrink(last, growth, total):
    return grow(last, growth, total)[::-1]


def sideways(half):
    """Faces from the room's middle outwards: room, wall, earth."""
    room = shrink(0.10 / FINE, 1.35, half)
    wall = np.full(int(4 * FINE), WALL / int(4 * FINE))
    return np.concatenate([[0.0], np.cumsum(np.concatenate([room, wall, grow(0.10 / FINE, 1.3, FAR - WALL)]))])


def faces():
    side = np.full(int(14 * FINE), HEIGHT / int(14 * FINE))
    down = np.concatenate([[DEPTH - HEIGHT], side, [0.05, 0.05], grow(0.06 / FINE, 1.3, FAR)])
    # The tube plane is the face in the middle of the slab: a cell of its own, thin, around it.
    z = np.concatenate([[0.0], np.cumsum(down)])
    top = DEPTH
    cut = np.array([top + 0.045, top + 0.055])
    z = np.sort(np.concatenate([z[np.abs(z - (top + 0.05)) > 1e-6], cut]))
    return sideways(LENGTH / 2), sideways(WIDTH / 2), z


class Cellar:
    def __init__(self, floor_film):
        x, y, z = faces()
        self.z = z
        dx, dy, dz = np.diff(x), np.diff(y), np.diff(z)
        mid = lambda f: 0.5 * (f[1:] + f[:-1])
        X, Y, Z = np.meshgrid(mid(x), mid(y), mid(z), indexing="ij")
        inside = (X < LENGTH / 2) & (Y < WIDTH / 2)
        # The ceiling's own 0.1 m below ground level counts as room: no heat passes it.
        room = inside & (Z < DEPTH)
        slab = inside & (Z > DEPTH) & (Z < DEPTH + SLAB)
        wall = ~inside & (X < LENGTH / 2 + WALL) & (Y < WIDTH / 2 + WALL) & (Z < DEPTH)
        k = np.where(slab, SLAB_K, np.where(wall, WALL_K, EARTH_K))
        c = np.where(slab, SLAB_C, np.where(wall, WALL_C, EARTH_C))
        number = np.full(X.shape, -1)
        number[~room] = np.arange((~room).sum())
        self.n = (~room).sum() + 1  # the air last
        air = self.n - 1
        volume = dx[:, None, None] * dy[None, :, None] * dz[None, None, :]
        self.capacity = np.zeros(self.n)
        self.capacity[:-1] = (c * volume)[~room]
        self.capacity[-1] = AIR_J_K / 4
        self.depth = np.append(Z[~room], DEPTH)
        rows, cols, values = [], [], []
        self.to_air = np.zeros(self.n)

        def link(a, b, g):
            rows.extend([a, b, a, b])
            cols.extend([b, a, a, b])
            values.extend([g, g, -g, -g])

        for axis, (d, area) in enumerate(
            ((dx, dy[None, :, None] * dz[None, None, :]), (dy, dx[:, None, None] * dz[None, None, :]), (dz, dx[:, None, None] * dy[None, :, None]))
        ):
            shape = [1, 1, 1]
            shape[axis] = -1
            half = d.reshape(shape) / 2 / k
            low, high = [slice(None)] * 3, [slice(None)] * 3
            low[axis], high[axis] = slice(None, -1), slice(1, None)
            low, high = tuple(low), tuple(high)
            area = np.broadcast_to(area, X.shape)[low]
            na, nb = number[low], number[high]
            ha, hb = np.broadcast_to(half, X.shape)[low], np.broadcast_to(half, X.shape)[high]
            both = (na >= 0) & (nb >= 0)
            g = area / (ha + hb)
            link(na[both], nb[both], g[both])
            # Room to wall or floor: the film, then half a cell.
            film = floor_film if axis == 2 else WALL_FILM
            for m, n, h in ((na < 0) & (nb >= 0), nb, hb), ((nb < 0) & (na >= 0), na, ha):
                cells = n[m]
                if axis == 2:
                    keep = np.broadcast_to(Z, X.shape)[high][m] > DEPTH
                    cells, g_air = cells[keep], (area / (1 / film + h))[m][keep]
                else:
                    # Only what is below the ceiling is wall.
                    keep = np.broadcast_to(Z, X.shape)[low][m] > DEPTH - HEIGHT
                    cells, g_air = cells[keep], (area / (1 / film + h))[m][keep]
                link(cells, np.full(len(cells), air), g_air)
                self.to_air[cells] += g_air
        rows, cols, values = (np.concatenate([np.atleast_1d(v) for v in part]) for part in (rows, cols, values))
        self.matrix = coo_matrix((values, (rows, cols)), shape=(self.n, self.n)).tocsc()
        # The ground's surface: half a cell to the yearly wave.
        # It begins outside the walls: the house stands on them.
        top = np.where(inside | wall, -1, number)[:, :, 0]
        g_top = (dx[:, None] * dy[None, :] / (dz[0] / 2 / k[:, :, 0]))[top >= 0]
        self.surface = np.zeros(self.n)
        self.surface[top[top >= 0]] = g_top
        core = slab & (np.abs(Z - (DEPTH + 0.05)) < 1e-3)
        self.core = number[core]
        weight = (dx[:, None, None] * dy[None, :, None] + 0 * Z)[core]
        self.core_share = weight / weight.sum()
        self.wall_cells = self.to_air * (self.depth < DEPTH)
        self.floor_cells = self.to_air * ((self.depth > DEPTH) & (self.depth < DEPTH + SLAB))

    def kusuda(self, amplitude, depth, day):
        damping = np.sqrt(YEAR * 86400 * EARTH_K / EARTH_C / np.pi)
        z = depth / damping
        return MEAN_C - amplitude * np.exp(-z) * np.cos(2 * np.pi / YEAR * (day - COLDEST_DAY) - z)

    def factored(self, dt):
        return splu((diags(self.capacity / dt + self.surface) - self.matrix).tocsc())

    def season(self, factors, amplitude, draw_w, start_day=305.0, draw_days=151, days=365, dt_days=1.0):
        """`factors` of a day's step with a floor colder than the air and with a warmer one."""
        dt = dt_days * 86400
        t = self.kusuda(amplitude, self.depth, start_day)
        t[-1] = self.kusuda(amplitude, DEPTH, start_day)
        rows = []
        for step in range(1, int(days / dt_days) + 1):
            at = step * dt_days
            right = self.capacity / dt * t + self.surface * self.kusuda(amplitude, 0.0, start_day + at)
            if at <= draw_days:
                right[self.core] -= draw_w / 4 * self.core_share
            is_warm = self.floor_cells @ t > self.floor_cells.sum() * t[-1]
            t = factors[int(is_warm)].solve(right)
            if abs(at % 30) < 1e-9:
                rows.append((int(at), t[self.core] @ self.core_share, t[-1]))
        return rows

    def steady(self):
        """W/K from the tube plane at one temperature, and from isothermal inner surfaces by depth."""
        fixed = np.zeros(self.n)
        big = 1e9
        fixed[self.core] = big
        t = splu((diags(fixed + self.surface) - self.matrix).tocsc()).solve(fixed * 1.0)
        print(f"tube plane to surface: {4 * (self.surface @ t):.2f} W/K; air at {t[-1]:.3f}")
        # Air and tube plane at 1: how much each part gives.
        fixed[-1] = big
        t = splu((diags(fixed + self.surface) - self.matrix).tocsc()).solve(fixed * 1.0)
        walls = self.wall_cells * (1 - t)
        print(f"air and tube plane at 1: surface {4 * (self.surface @ t):.2f} W/K, walls {4 * walls.sum():.2f}")
        for band in range(4):
            low, high = DEPTH - HEIGHT + np.array([band, band + 1]) / 4 * HEIGHT
            m = (self.depth > low) & (self.depth < high)
            print(f"  band {band}: {4 * walls[m].sum():.2f} W/K")


def main():
    cellar = Cellar(COLD_FILM)
    print(f"{cellar.n} nodes")
    cellar.steady()
    if "--steady" in sys.argv:
        return
    factors = [one.factored(86400.0) for one in (cellar, Cellar(WARM_FILM))]
    for amplitude in (3.0, 12.0):
        for draw in (0.0, 120.0, 300.0):
            print(f"amplitude {amplitude} K, {draw} W drawn for 151 days from day 305: day, tube plane, air")
            for day, core, air in cellar.season(factors, amplitude, draw):
                print(f"    ({day}, {core:.3f}, {air:.3f}),")


if __name__ == "__main__":
    main()
