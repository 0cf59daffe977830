# SPDX-License-Identifier: GPL-3.0-or-later
# Pages for man, from what the program says by --help. Without awk, or in a build with sanitizers, there are none.
find_program(CAVUM_AWK NAMES awk mawk gawk)
if(CAVUM_AWK AND NOT CAVUM_SANITIZE AND NOT CAVUM_THREADS)
  set(pages)
  foreach(command IN ITEMS "" solve tune tolerances mesh scan coldtest draw compare report figures)
    set(name cavum)
    if(command)
      set(name cavum-${command})
    endif()
    set(page ${PROJECT_BINARY_DIR}/man/${name}.1)
    add_custom_command(OUTPUT ${page}
      COMMAND ${CMAKE_COMMAND} -E make_directory ${PROJECT_BINARY_DIR}/man
      COMMAND ${CMAKE_COMMAND} -E env ARGP_HELP_FMT=rmargin=500 LC_ALL=C
        $<TARGET_FILE:cavum> ${command} --help > ${page}.txt
      COMMAND ${CAVUM_AWK} -v name=${name} -v version=${PROJECT_VERSION}
        -f ${PROJECT_SOURCE_DIR}/scripts/cmake/man.awk ${page}.txt > ${page}
      DEPENDS cavum cavum_more ${PROJECT_SOURCE_DIR}/scripts/cmake/man.awk
      VERBATIM)
    list(APPEND pages ${page})
  endforeach()
  add_custom_target(cavum_manual ALL DEPENDS ${pages})
  install(FILES ${pages} DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
endif()
