#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Writes the mesh file and cell file of a needle that ends in a pillbox, by hand.

    needle_mesh.py RADIUS_MM RATIO NAME

writes NAME.msh and NAME.yaml: lines z = const and r = const through the corners of the tip, graded
by 0.17 at the corner (as far as one radius) and from there by RATIO, so that no element spans more
than that ratio of radii beside the needle. `cavum solve NAME.yaml` gave the reference values of
test_needles.c at RADIUS_MM 0.02 and RATIO 1.5.
"""

import sys

LENGTH, RADIUS, TIP = 100.0, 88.0, 30.0
FRACTION, LAYERS = 0.17, 5


def from_corner(at, to, radius, ratio, end=0.75):
    """Places from a corner towards another line, finest at the corner."""
    sign = 1.0 if to > at else -1.0
    steps = [radius * FRACTION**i for i in range(LAYERS, -1, -1)]
    while steps[-1] * ratio < end * abs(to - at):
        steps.append(steps[-1] * ratio)
    return [at + sign * step for step in steps if step < end * abs(to - at)]


def lines(radius, ratio):
    z = from_corner(TIP, 0.0, radius, ratio) + from_corner(TIP, LENGTH, radius, ratio)
    r = from_corner(radius, RADIUS, radius, ratio) + from_corner(radius, 0.0, radius, ratio, 0.6)
    return sorted([0.0, TIP, LENGTH] + z), sorted([0.0, radius, RADIUS] + r)


class Grid:
    def __init__(self, radius, ratio):
        self.radius = radius
        self.z, self.r = lines(radius, ratio)
        self.number, self.nodes, self.quads, self.edges = {}, [], [], []
        for i in range(len(self.z) - 1):
            for j in range(len(self.r) - 1):
                if self.is_inside(i, j):
                    self.add(i, j)

    def is_inside(self, i, j):
        if not (0 <= i < len(self.z) - 1 and 0 <= j < len(self.r) - 1):
            return False
        return not (self.z[i] < TIP and self.r[j] < self.radius)

    def node(self, i, j):
        if (i, j) not in self.number:
            self.nodes.append((self.z[i], self.r[j]))
            self.number[i, j] = len(self.nodes)
        return self.number[i, j]

    def add(self, i, j):
        corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
        beside = [(i, j - 1), (i + 1, j), (i, j + 1), (i - 1, j)]
        self.quads.append([self.node(*corner) for corner in corners])
        for k in range(4):
            if not self.is_inside(*beside[k]):
                on_axis = k == 0 and self.r[j] == 0.0
                ends = self.node(*corners[k]), self.node(*corners[(k + 1) % 4])
                self.edges.append((2 if on_axis else 1, *ends))


def write(grid, name):
    with open(name + ".msh", "w") as out:
        out.write("$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$PhysicalNames\n3\n")
        out.write('1 1 "metal"\n1 2 "axis"\n2 3 "vacuum"\n$EndPhysicalNames\n')
        out.write(f"$Nodes\n{len(grid.nodes)}\n")
        for i, (z, r) in enumerate(grid.nodes, 1):
            out.write(f"{i} {z:.17g} {r:.17g} 0\n")
        out.write(f"$EndNodes\n$Elements\n{len(grid.edges) + len(grid.quads)}\n")
        rows = [(1, tag, a, b) for tag, a, b in grid.edges] + [(3, 3, *q) for q in grid.quads]
        for i, (kind, tag, *corners) in enumerate(rows, 1):
            out.write(f"{i} {kind} 2 {tag} {tag} {' '.join(map(str, corners))}\n")
        out.write("$EndElements\n")
    with open(name + ".yaml", "w") as out:
        out.write(f"accelerating_length_mm: {LENGTH}\nmodes: {{count: 1}}\n")
        out.write(f"contour: {{kind: mesh, file: {name}.msh, unit: mm, axis: x}}\n")


if __name__ == "__main__":
    write(Grid(float(sys.argv[1]), float(sys.argv[2])), sys.argv[3])
