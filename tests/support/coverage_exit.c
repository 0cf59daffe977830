// SPDX-License-Identifier: GPL-3.0-or-later
// Builds that count which lines run (CAVUM_COVERAGE) link this: a process that leaves by _exit(),
// as the workers of a scan do, writes down what it counted too. Visible, since the shared library
// may find the one of its program.
int __llvm_profile_write_file(void);
_Noreturn void __real__exit(int status);
__attribute__((visibility("default"))) _Noreturn void __wrap__exit(int status);

void __wrap__exit(int status) {
  (void)__llvm_profile_write_file();
  __real__exit(status);
}
