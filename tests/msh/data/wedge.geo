// SPDX-License-Identifier: GPL-3.0-or-later
// A pillbox with a wedge of 28 degrees on its mantle, in elements that do not become smaller towards
// its edge.
length = 100; radius = 90; edge = 45; z = 55;
half = (radius - edge) * Tan(14 * Pi / 180);
size = 12;
Point(1) = {0, 0, 0, size};
Point(2) = {length, 0, 0, size};
Point(3) = {length, radius, 0, size};
Point(4) = {z + half, radius, 0, size};
Point(5) = {z, edge, 0, size};
Point(6) = {z - half, radius, 0, size};
Point(7) = {0, radius, 0, size};
Line(1) = {1, 2};
Line(2) = {2, 3};
Line(3) = {3, 4};
Line(4) = {4, 5};
Line(5) = {5, 6};
Line(6) = {6, 7};
Line(7) = {7, 1};
Curve Loop(1) = {1, 2, 3, 4, 5, 6, 7};
Plane Surface(1) = {1};
Physical Curve("axis") = {1};
Physical Curve("metal") = {2, 3, 4, 5, 6, 7};
Physical Surface("vacuum") = {1};
