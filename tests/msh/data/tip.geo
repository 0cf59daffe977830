// SPDX-License-Identifier: GPL-3.0-or-later
// A pillbox with half an ellipse of 20:1 on its mantle: at its tip the wall turns by 180 degrees
// within a fraction of a millimetre. `at_tip` is the length of a side there over the radius of the tip.
If (!Exists(at_tip)) at_tip = 2; EndIf
length = 100; radius = 100; high = 40; wide = 2; z = 45;
at_tip = at_tip * wide * wide / high;
Point(1) = {0, 0, 0, 20};
Point(2) = {length, 0, 0, 20};
Point(3) = {length, radius, 0, 20};
Point(4) = {z + wide, radius, 0, 8};
Point(5) = {z, radius - high, 0, at_tip};
Point(6) = {z - wide, radius, 0, 8};
Point(7) = {0, radius, 0, 20};
Point(8) = {z, radius, 0};
Line(1) = {1, 2};
Line(2) = {2, 3};
Line(3) = {3, 4};
Ellipse(4) = {4, 8, 5, 5};
Ellipse(5) = {5, 8, 5, 6};
Line(6) = {6, 7};
Line(7) = {7, 1};
Curve Loop(1) = {1, 2, 3, 4, 5, 6, 7};
Plane Surface(1) = {1};
Physical Curve("axis") = {1};
Physical Curve("metal") = {2, 3, 4, 5, 6, 7};
Physical Surface("vacuum") = {1};
