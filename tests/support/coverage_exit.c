// SPDX-License-Identifier: GPL-3.0-or-later
// Builds that count which lines run (CAVUM_COVERAGE) link this: a process that leaves by _exit(),
// as the workers of a scan do, writes down what it counted too. Visible, since the shared library
// may find the one of its program.
void __gcov_dump(void);
_Noreturn void __real__exit(int status);
__attribute__((visibility("default"))) _Noreturn void __wrap__exit(int status);

void __wrap__exit(int status) {
  __gcov_dump();
  __real__exit(status);
}
