# SPDX-License-Identifier: GPL-3.0-or-later
# Pages for man and completion for bash and zsh, from what the program says by --help. Without awk, or in a build with sanitizers, there are none.
find_program(CAVUM_AWK NAMES awk mawk gawk)
if(CAVUM_AWK AND NOT CAVUM_SANITIZE AND NOT CAVUM_THREADS)
  set(pages)
  set(texts)
  foreach(command IN ITEMS "" solve tune optimise tolerances steps as-built mesh scan coldtest draw compare report figures)
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
    list(APPEND texts ${page}.txt)
  endforeach()
  set(completions)
  foreach(shell IN ITEMS bash zsh)
    set(completion ${PROJECT_BINARY_DIR}/man/completion.${shell})
    add_custom_command(OUTPUT ${completion}
      COMMAND ${CAVUM_AWK} -v shell=${shell} -v program=$<TARGET_FILE:cavum> -f ${PROJECT_SOURCE_DIR}/scripts/cmake/completion.awk ${texts} > ${completion}
      DEPENDS ${pages} ${PROJECT_SOURCE_DIR}/scripts/cmake/completion.awk
      VERBATIM)
    list(APPEND completions ${completion})
  endforeach()
  add_custom_target(cavum_manual ALL DEPENDS ${pages} ${completions})
  install(FILES ${pages} DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 COMPONENT program)
  install(FILES ${PROJECT_BINARY_DIR}/man/completion.bash RENAME cavum
    DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions COMPONENT program)
  install(FILES ${PROJECT_BINARY_DIR}/man/completion.zsh RENAME _cavum
    DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/site-functions COMPONENT program)
endif()
