# SPDX-License-Identifier: GPL-3.0-or-later
# Packages for Debian: program, library, development files and Python module. scripts/packages makes them.
option(CAVUM_PACKAGES "Build the Python module into the packages for Debian" OFF)
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_PACKAGE_NAME cavum)
set(CPACK_PACKAGE_VENDOR "The authors of cavum")
set(CPACK_PACKAGE_CONTACT "The authors of cavum <cavum@localhost>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "Figures of merit of axisymmetric accelerating cavity cells")
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_GROUPING ONE_PER_GROUP)
set(CPACK_COMPONENTS_ALL program library development)
set(library_package libcavum${CAVUM_SOVERSION})
set(same "(= ${PROJECT_VERSION})")

# What is linked, dpkg-shlibdeps finds; what is opened at first need it cannot see: by the names in base/late.h's tables.
set(opened_packages)
foreach(name libopenblas.so.0 libcholmod.so.3 libarpack.so.2 libhdf5_serial.so.103 libmuparser.so.2)
  execute_process(COMMAND dpkg-query --search "*/${name}" OUTPUT_VARIABLE owner ERROR_QUIET)
  if(owner MATCHES "^([a-z0-9.+-]+)")
    string(REGEX REPLACE "^(libopenblas0)-.*" "\\1" owner "${CMAKE_MATCH_1}")  # Any of its kinds.
    list(APPEND opened_packages ${owner})
  endif()
endforeach()
list(JOIN opened_packages ", " opened_packages)

set(CPACK_DEBIAN_PROGRAM_PACKAGE_NAME cavum)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_DEPENDS "${opened_packages}, fonts-dejavu-core")
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SHLIBDEPS ON)
set(CPACK_COMPONENT_PROGRAM_DESCRIPTION "Programs, manual pages, completion, schemas of files.")
set(CPACK_DEBIAN_LIBRARY_PACKAGE_NAME ${library_package})
set(CPACK_DEBIAN_LIBRARY_PACKAGE_SECTION libs)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_DEPENDS "${opened_packages}, fonts-dejavu-core")
set(CPACK_DEBIAN_LIBRARY_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_GENERATE_SHLIBS ON)
set(CPACK_COMPONENT_LIBRARY_DESCRIPTION "Shared libraries.")
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_NAME libcavum-dev)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SECTION libdevel)
# pkg-config wants the files of all that Requires.private names, for --cflags as well.
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS "${library_package} ${same}, libsuitesparse-dev, libarpack2-dev, libopenblas-dev, libhdf5-dev, libyaml-dev, libjansson-dev, libgsl-dev, nettle-dev, libmuparser-dev, zlib1g-dev, libcsv-dev, libpango1.0-dev, libpng-dev")
set(CPACK_COMPONENT_DEVELOPMENT_DESCRIPTION "Headers, static libraries, files for pkg-config and CMake.")

# Debian wants the licence of each package under this name; the notices are those of what is inside.
foreach(pair IN ITEMS program:cavum library:${library_package} development:libcavum-dev)
  string(REPLACE ":" ";" pair ${pair})
  list(POP_FRONT pair component package)
  set(folder ${CMAKE_INSTALL_DATADIR}/doc/${package})
  install(FILES NOTICE DESTINATION ${folder} COMPONENT ${component} RENAME copyright EXCLUDE_FROM_ALL)
  if(NOT component STREQUAL "program")
    install(FILES ${notices} DESTINATION ${folder} COMPONENT ${component} EXCLUDE_FROM_ALL)
  endif()
endforeach()

# The module is built against the library of this folder and finds the one of the system where it is installed.
if(CAVUM_PACKAGES)
  set(module ${PROJECT_BINARY_DIR}/python-module)
  file(GLOB module_sources CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/python/*.py ${PROJECT_SOURCE_DIR}/python/cavum/*
    ${PROJECT_SOURCE_DIR}/python/core/*)
  add_custom_command(OUTPUT ${module}/built
    COMMAND ${CMAKE_COMMAND} -E rm -rf ${module}
    COMMAND ${CMAKE_COMMAND} -E env CAVUM_BUILD=${PROJECT_BINARY_DIR} CAVUM_NO_RPATH=1 /usr/bin/python3 setup.py --quiet
      build --build-base ${module}/temporary --build-lib ${module}/lib
    COMMAND ${CMAKE_COMMAND} -E touch ${module}/built
    WORKING_DIRECTORY ${PROJECT_SOURCE_DIR}/python
    DEPENDS cavum_shared cavum_pictures_shared ${module_sources} VERBATIM)
  add_custom_target(cavum_python_module ALL DEPENDS ${module}/built)
  install(DIRECTORY ${module}/lib/cavum DESTINATION lib/python3/dist-packages COMPONENT python)
  install(FILES NOTICE DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/python3-cavum COMPONENT python RENAME copyright)
  list(APPEND CPACK_COMPONENTS_ALL python)
  set(CPACK_DEBIAN_PYTHON_PACKAGE_NAME python3-cavum)
  set(CPACK_DEBIAN_PYTHON_PACKAGE_SECTION python)
  set(CPACK_DEBIAN_PYTHON_PACKAGE_DEPENDS "${library_package} ${same}, python3, python3-cffi-backend, python3-numpy")
  set(CPACK_COMPONENT_PYTHON_DESCRIPTION "Module for Python.")
endif()
include(CPack)
