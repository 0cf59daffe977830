# SPDX-License-Identifier: GPL-3.0-or-later
# Every third-party library as an imported target cavum::NAME. Versions are Debian 12's.
find_package(PkgConfig REQUIRED)

function(cavum_pkg name module)
  pkg_check_modules(${name} REQUIRED IMPORTED_TARGET GLOBAL ${module})
  add_library(cavum::${name} INTERFACE IMPORTED GLOBAL)
  target_link_libraries(cavum::${name} INTERFACE PkgConfig::${name})
endfunction()

# For libraries that come with neither a pkg-config nor a CMake file.
function(cavum_plain name header library)
  find_path(${name}_INCLUDE ${header} PATH_SUFFIXES ${ARGN} REQUIRED)
  find_library(${name}_LIBRARY ${library} REQUIRED)
  add_library(cavum::${name} INTERFACE IMPORTED GLOBAL)
  target_include_directories(cavum::${name} SYSTEM INTERFACE ${${name}_INCLUDE})
  target_link_libraries(cavum::${name} INTERFACE ${${name}_LIBRARY})
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

# pkg-config may name a folder of its own for a library that the linker finds anyway. Each such
# folder would go into the run path of programs in the build folder, and be searched in vain for
# every other library at each start.
function(cavum_prefer_default_folder target name)
  find_library(${name}_DEFAULT ${name})
  get_target_property(libraries ${target} INTERFACE_LINK_LIBRARIES)
  foreach(library ${libraries})
    file(REAL_PATH "${library}" real BASE_DIRECTORY /)
    if(${name}_DEFAULT)
      file(REAL_PATH ${${name}_DEFAULT} default_real)
      if(real STREQUAL default_real)
        set(library ${${name}_DEFAULT})
      endif()
    endif()
    list(APPEND chosen ${library})
  endforeach()
  set_target_properties(${target} PROPERTIES INTERFACE_LINK_LIBRARIES "${chosen}")
endfunction()
cavum_prefer_default_folder(PkgConfig::lapack openblas)

# HDF5 for programs: its archive, where there is one that links. The shared library brings some
# thirty others for reading from the network (curl, TLS, Kerberos), which take 6 ms to load at each
# start; what is used here needs none of them.
include(CheckCSourceCompiles)
find_library(hdf5_ARCHIVE libhdf5.a PATHS ${hdf5_LIBRARY_DIRS} NO_DEFAULT_PATH)
find_library(hdf5_SZIP sz)
if(hdf5_ARCHIVE AND hdf5_SZIP)
  set(CMAKE_REQUIRED_INCLUDES ${hdf5_INCLUDE_DIRS})
  set(CMAKE_REQUIRED_LIBRARIES ${hdf5_ARCHIVE} ${hdf5_SZIP} PkgConfig::zlib m ${CMAKE_DL_LIBS})
  check_c_source_compiles("#include <hdf5.h>
int main(void) { return H5Fcreate(\"x\", H5F_ACC_EXCL, H5P_DEFAULT, H5P_DEFAULT) < 0; }"
    CAVUM_HDF5_ARCHIVE_LINKS)
  unset(CMAKE_REQUIRED_INCLUDES)
  unset(CMAKE_REQUIRED_LIBRARIES)
endif()
if(CAVUM_HDF5_ARCHIVE_LINKS)
  add_library(cavum::hdf5_program STATIC IMPORTED GLOBAL)
  set_target_properties(cavum::hdf5_program PROPERTIES IMPORTED_LOCATION ${hdf5_ARCHIVE}
    INTERFACE_INCLUDE_DIRECTORIES "${hdf5_INCLUDE_DIRS}")
  target_link_libraries(cavum::hdf5_program INTERFACE ${hdf5_SZIP} PkgConfig::zlib m ${CMAKE_DL_LIBS})
else()
  add_library(cavum::hdf5_program INTERFACE IMPORTED GLOBAL)
  target_link_libraries(cavum::hdf5_program INTERFACE PkgConfig::hdf5)
endif()

# cavum_soname(OUTPUT NAME FILE): the file by which the loader knows the shared library libFILE of cavum::NAME.
function(cavum_soname output name file)
  get_target_property(libraries cavum::${name} INTERFACE_LINK_LIBRARIES)
  if(TARGET PkgConfig::${name})
    get_target_property(libraries PkgConfig::${name} INTERFACE_LINK_LIBRARIES)
  endif()
  list(FILTER libraries INCLUDE REGEX "/lib${file}[^/]*\\.so$")
  list(GET libraries 0 library)
  execute_process(COMMAND ${CMAKE_READELF} -d ${library} OUTPUT_VARIABLE dynamic COMMAND_ERROR_IS_FATAL ANY)
  if(NOT dynamic MATCHES "soname: \\[([^]]+)\\]")
    message(FATAL_ERROR "${library} has no name as a shared library")
  endif()
  set(${output} ${CMAKE_MATCH_1} PARENT_SCOPE)
endfunction()
