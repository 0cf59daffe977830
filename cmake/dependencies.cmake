# SPDX-License-Identifier: GPL-3.0-or-later
# Every third-party library as an imported target cavum::NAME. Versions are Debian 12's.
find_package(PkgConfig REQUIRED)

function(cavum_pkg name module)
  pkg_check_modules(${name} REQUIRED IMPORTED_TARGET ${module})
  add_library(cavum_dep_${name} INTERFACE)
  target_link_libraries(cavum_dep_${name} INTERFACE PkgConfig::${name})
  add_library(cavum::${name} ALIAS cavum_dep_${name})
endfunction()

# For libraries that come with neither a pkg-config nor a CMake file.
function(cavum_plain name header library)
  find_path(${name}_INCLUDE ${header} PATH_SUFFIXES ${ARGN} REQUIRED)
  find_library(${name}_LIBRARY ${library} REQUIRED)
  add_library(cavum_dep_${name} INTERFACE)
  target_include_directories(cavum_dep_${name} SYSTEM INTERFACE ${${name}_INCLUDE})
  target_link_libraries(cavum_dep_${name} INTERFACE ${${name}_LIBRARY})
  add_library(cavum::${name} ALIAS cavum_dep_${name})
endfunction()

cavum_pkg(yaml yaml-0.1)
cavum_pkg(arpack arpack)
cavum_pkg(gsl gsl)
cavum_pkg(jansson jansson)
cavum_pkg(hdf5 hdf5)
cavum_pkg(nettle nettle)
cavum_pkg(muparser muparser)
cavum_pkg(zlib zlib)
cavum_pkg(lapack openblas)
cavum_pkg(pangocairo pangocairo)
cavum_pkg(png libpng)
cavum_plain(cholmod cholmod.h cholmod suitesparse)
cavum_plain(csv csv.h csv)
