# SPDX-License-Identifier: GPL-3.0-or-later
# What the shared library shows: the functions that its headers mark, under one version of symbols, and
# nothing else. Kernels that are compiled for several processors would be seen otherwise.

# cavum_write_symbols(FILE): the linker's version script.
function(cavum_write_symbols file)
  set(names "")
  file(GLOB headers CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/include/cavum/*.h)
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${headers})
  foreach(header ${headers})
    file(READ ${header} text)
    string(REPLACE ";" "@" text "${text}")
    string(REGEX MATCHALL "CAVUM_API[^(@]*[ *\n]cavum_[a-z0-9_]+\\(" marked "${text}")
    foreach(declaration ${marked})
      string(REGEX REPLACE ".*[ *\n](cavum_[a-z0-9_]+)\\($" "\\1" name "${declaration}")
      list(APPEND names ${name})
    endforeach()
  endforeach()
  list(SORT names)
  list(JOIN names ";\n    " lines)
  file(CONFIGURE OUTPUT ${file} @ONLY CONTENT "CAVUM_0 {
  global:
    @lines@;
  local:
    *;
};
")
endfunction()
