// A spherical cavity of radius 50 mm: half a disc about the origin, the axis along x, in mm.
// shape = 0: triangles, 1: quadrilaterals, 2: both.
R = 50; lc = 45;
Point(1) = {-R, 0, 0, lc}; Point(2) = {0, 0, 0, lc}; Point(3) = {R, 0, 0, lc}; Point(4) = {0, R, 0, lc};
Line(1) = {1, 2}; Line(2) = {2, 3}; Circle(3) = {3, 2, 4}; Circle(4) = {4, 2, 1}; Line(5) = {2, 4};
Curve Loop(1) = {2, 3, -5}; Plane Surface(1) = {1};
Curve Loop(2) = {1, 5, 4}; Plane Surface(2) = {2};
Physical Curve("axis", 1) = {1, 2};
Physical Curve("metal", 2) = {3, 4};
Physical Surface("vacuum", 1) = {1, 2};
Mesh.Algorithm = 6;
Mesh.RecombinationAlgorithm = 0;
If (shape == 1)
  Mesh.SubdivisionAlgorithm = 1;
EndIf
If (shape == 2)
  Transfinite Curve{2, 5} = 4; Recombine Surface{2};
EndIf
