# SPDX-License-Identifier: GPL-3.0-or-later
# What `cmake --install` puts where, and how other projects find it: find_package(cavum) and pkg-config.
include(CMakePackageConfigHelpers)
set_target_properties(cavum_shared PROPERTIES EXPORT_NAME cavum)
set_target_properties(cavum_pictures_shared PROPERTIES EXPORT_NAME pictures)
set_target_properties(cavum_static PROPERTIES EXPORT_NAME cavum_static)
set_target_properties(cavum_pictures_static PROPERTIES EXPORT_NAME pictures_static)

set(package_folder ${CMAKE_INSTALL_LIBDIR}/cmake/cavum)
# Each part belongs to one of the packages of packages.cmake; `cmake --install` takes all.
install(TARGETS cavum_shared cavum_pictures_shared EXPORT cavum-shared
  LIBRARY COMPONENT library NAMELINK_COMPONENT development)
install(TARGETS cavum_static cavum_pictures_static EXPORT cavum-static ARCHIVE COMPONENT development)
install(EXPORT cavum-shared NAMESPACE cavum:: DESTINATION ${package_folder} COMPONENT development)
install(EXPORT cavum-static NAMESPACE cavum:: DESTINATION ${package_folder} COMPONENT development)
install(TARGETS cavum RUNTIME COMPONENT program)
install(TARGETS cavum_more DESTINATION ${CMAKE_INSTALL_LIBEXECDIR}/cavum COMPONENT program)
install(DIRECTORY include/cavum DESTINATION ${CMAKE_INSTALL_INCLUDEDIR} COMPONENT development)
install(DIRECTORY scripts/schemas DESTINATION ${CMAKE_INSTALL_DATADIR}/cavum COMPONENT program)

configure_package_config_file(scripts/cmake/cavum-config.cmake.in ${PROJECT_BINARY_DIR}/cavum-config.cmake
  INSTALL_DESTINATION ${package_folder})
write_basic_package_version_file(${PROJECT_BINARY_DIR}/cavum-config-version.cmake
  COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/cavum-config.cmake ${PROJECT_BINARY_DIR}/cavum-config-version.cmake
  scripts/cmake/dependencies.cmake DESTINATION ${package_folder} COMPONENT development)

# Folders relative to the file, so that an installed tree may be moved.
file(RELATIVE_PATH prefix_from_file ${CMAKE_INSTALL_FULL_LIBDIR}/pkgconfig ${CMAKE_INSTALL_PREFIX})
foreach(name cavum cavum-pictures)
  configure_file(scripts/cmake/${name}.pc.in ${PROJECT_BINARY_DIR}/${name}.pc @ONLY)
  install(FILES ${PROJECT_BINARY_DIR}/${name}.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig COMPONENT development)
endforeach()

# Licences: ours, and the notices of what is inside. Debian keeps the one of HDF5 with its archive.
set(notices ${PROJECT_SOURCE_DIR}/LICENSE ${PROJECT_SOURCE_DIR}/NOTICE)
if(EXISTS /usr/share/doc/libhdf5-dev/copyright)
  configure_file(/usr/share/doc/libhdf5-dev/copyright ${PROJECT_BINARY_DIR}/notices/HDF5.copyright COPYONLY)
  list(APPEND notices ${PROJECT_BINARY_DIR}/notices/HDF5.copyright)
else()
  message(WARNING "The notice of HDF5, /usr/share/doc/libhdf5-dev/copyright, is missing: who hands on what is "
    "built here must add it")
endif()
if(CAVUM_HAS_PLOTS)
  configure_file(${web_library}/LICENSE ${PROJECT_BINARY_DIR}/notices/uPlot.copyright
    COPYONLY)
  list(APPEND notices ${PROJECT_BINARY_DIR}/notices/uPlot.copyright)
endif()
install(FILES ${notices} DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)

# The texts that headers and manual pages refer to, in the folders in which their links find each other.
install(FILES README.md REFERENCE.md CHANGELOG.md DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
install(FILES solver/bibliography.md DESTINATION ${CMAKE_INSTALL_DOCDIR}/solver COMPONENT program)
install(DIRECTORY documentation geometries-demo pictures DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
