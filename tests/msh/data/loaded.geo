// A pillbox 100 mm long and 80 mm in radius with a ceramic disc from z = 40 to 60 mm, in metres,
// the axis along z and r along x. The faces of the disc are named too: they are no boundary.
lc = 0.04;
Point(1) = {0, 0, 0, lc}; Point(2) = {0, 0, 0.04, lc}; Point(3) = {0, 0, 0.06, lc}; Point(4) = {0, 0, 0.1, lc};
Point(5) = {0.08, 0, 0.1, lc}; Point(6) = {0.08, 0, 0.06, lc}; Point(7) = {0.08, 0, 0.04, lc}; Point(8) = {0.08, 0, 0, lc};
Line(1) = {1, 2}; Line(2) = {2, 3}; Line(3) = {3, 4}; Line(4) = {4, 5}; Line(5) = {5, 6};
Line(6) = {6, 7}; Line(7) = {7, 8}; Line(8) = {8, 1}; Line(9) = {2, 7}; Line(10) = {3, 6};
Curve Loop(1) = {1, 9, 7, 8}; Plane Surface(11) = {1};
Curve Loop(2) = {2, 10, 6, -9}; Plane Surface(12) = {2};
Curve Loop(3) = {3, 4, 5, -10}; Plane Surface(13) = {3};
Physical Curve("beam line", 7) = {1, 2, 3};
Physical Curve("metal", 8) = {4, 5, 6, 7};
Physical Curve("magnetic", 9) = {8};
Physical Curve("faces", 10) = {9, 10};
Physical Surface("vacuum", 20) = {11, 13};
Physical Surface("ceramic", 21) = {12};
Mesh.Algorithm = 6;
