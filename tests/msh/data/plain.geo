// A pillbox 100 mm long and 60 mm in radius, in mm, the axis along y and r along z.
// groups = 0: no physical groups; 1: only the end plane at y = 100, which is magnetic, and the
// surface; 2: every surface element in two groups; 3: groups with negative tags.
lc = 50;
Point(1) = {0, 0, 0, lc}; Point(2) = {0, 100, 0, lc}; Point(3) = {0, 100, 60, lc}; Point(4) = {0, 0, 60, lc};
Line(1) = {1, 2}; Line(2) = {2, 3}; Line(3) = {3, 4}; Line(4) = {4, 1};
Curve Loop(1) = {1, 2, 3, 4}; Plane Surface(1) = {1};
Mesh.Algorithm = 6;
If (groups == 1 || groups == 2)
  Physical Curve("magnetic", 3) = {2};
  Physical Surface("inside", 5) = {1};
EndIf
If (groups == 2)
  Physical Surface("everything", 4) = {1};
  Physical Curve("end planes", 6) = {2};
EndIf
If (groups == 3)
  Physical Curve("magnetic", 3) = {-2};
  Physical Surface("inside", 5) = {-1};
EndIf
If (periodic == 1)
  Periodic Curve{2} = {-4} Translate{0, 100, 0};
EndIf
