# SPDX-License-Identifier: GPL-3.0-or-later
# What `cmake --install` puts where, and how other projects find it: find_package(cavum) and pkg-config.
include(CMakePackageConfigHelpers)
set_target_properties(cavum_shared PROPERTIES EXPORT_NAME cavum)
set_target_properties(cavum_pictures_shared PROPERTIES EXPORT_NAME pictures)
set_target_properties(cavum_static PROPERTIES EXPORT_NAME cavum_static)
set_target_properties(cavum_pictures_static PROPERTIES EXPORT_NAME pictures_static)

set(package_folder ${CMAKE_INSTALL_LIBDIR}/cmake/cavum)
install(TARGETS cavum_shared cavum_pictures_shared EXPORT cavum-shared)
install(TARGETS cavum_static cavum_pictures_static EXPORT cavum-static)
install(EXPORT cavum-shared NAMESPACE cavum:: DESTINATION ${package_folder})
install(EXPORT cavum-static NAMESPACE cavum:: DESTINATION ${package_folder})
install(TARGETS cavum)
install(TARGETS cavum_more DESTINATION ${CMAKE_INSTALL_LIBEXECDIR}/cavum)
install(DIRECTORY include/cavum DESTINATION ${CMAKE_INSTALL_INCLUDEDIR})
install(DIRECTORY scripts/schemas DESTINATION ${CMAKE_INSTALL_DATADIR}/cavum)

configure_package_config_file(scripts/cmake/cavum-config.cmake.in ${PROJECT_BINARY_DIR}/cavum-config.cmake
  INSTALL_DESTINATION ${package_folder})
write_basic_package_version_file(${PROJECT_BINARY_DIR}/cavum-config-version.cmake
  COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/cavum-config.cmake ${PROJECT_BINARY_DIR}/cavum-config-version.cmake
  scripts/cmake/dependencies.cmake DESTINATION ${package_folder})

# Folders relative to the file, so that an installed tree may be moved.
file(RELATIVE_PATH prefix_from_file ${CMAKE_INSTALL_FULL_LIBDIR}/pkgconfig ${CMAKE_INSTALL_PREFIX})
foreach(name cavum cavum-pictures)
  configure_file(scripts/cmake/${name}.pc.in ${PROJECT_BINARY_DIR}/${name}.pc @ONLY)
  install(FILES ${PROJECT_BINARY_DIR}/${name}.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig)
endforeach()

# Licences: ours, and the notices of what is inside. Debian keeps the one of HDF5 with its archive.
install(FILES LICENSE NOTICE DESTINATION ${CMAKE_INSTALL_DOCDIR})
if(EXISTS /usr/share/doc/libhdf5-dev/copyright)
  install(FILES /usr/share/doc/libhdf5-dev/copyright DESTINATION ${CMAKE_INSTALL_DOCDIR} RENAME HDF5.copyright)
else()
  message(WARNING "The notice of HDF5, /usr/share/doc/libhdf5-dev/copyright, is missing: who hands on what is "
    "built here must add it")
endif()
if(CAVUM_HAS_PLOTS)
  install(FILES ${PROJECT_BINARY_DIR}/web/node_modules/uplot/LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR}
    RENAME uPlot.copyright)
endif()
