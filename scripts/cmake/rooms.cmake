# SPDX-License-Identifier: GPL-3.0-or-later
# A room is a folder with one subject and a target cavum_NAME. Its headers are included by the room's
# name, "solve/ladder.h". For each room the build folder has a folder rooms/NAME with one link in it,
# NAME, to the sources: with that folder on its include path a target sees this room and no other.

# cavum_open_room(NAME FOLDER): makes the link.
function(cavum_open_room name folder)
  set(door ${PROJECT_BINARY_DIR}/rooms/${name})
  file(MAKE_DIRECTORY ${door})
  file(CREATE_LINK ${PROJECT_SOURCE_DIR}/${folder} ${door}/${name} SYMBOLIC)
  set_property(GLOBAL APPEND PROPERTY CAVUM_ROOMS ${name})
endfunction()

# cavum_see_rooms(TARGET NAME...): headers of these rooms for a target that is no room itself.
function(cavum_see_rooms target)
  foreach(name ${ARGN})
    target_include_directories(${target} PUBLIC ${PROJECT_BINARY_DIR}/rooms/${name})
  endforeach()
endfunction()

# cavum_room(NAME FOLDER [USES lower rooms] [LIBRARIES third-party targets])
#
# Sources NAME_opened.c and NAME_linked.c say how a third-party library is reached from the shared library and
# from the archive: they are the targets cavum_NAME_opened and cavum_NAME_linked.
function(cavum_room name folder)
  cmake_parse_arguments(ROOM "" "" "USES;LIBRARIES" ${ARGN})
  cavum_open_room(${name} ${folder})
  file(GLOB sources CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/${folder}/*.c)
  foreach(way opened linked)
    set(of_way ${sources})
    list(FILTER of_way INCLUDE REGEX "_${way}\\.c$")
    list(FILTER sources EXCLUDE REGEX "_${way}\\.c$")
    if(of_way)
      cavum_objects(cavum_${name}_${way} ${name} SOURCES ${of_way} USES ${ROOM_USES} LIBRARIES ${ROOM_LIBRARIES})
    endif()
  endforeach()
  cavum_objects(cavum_${name} ${name} SOURCES ${sources} USES ${ROOM_USES} LIBRARIES ${ROOM_LIBRARIES})
endfunction()

# cavum_objects(TARGET ROOM SOURCES ... USES ... LIBRARIES ...): sources of a room with what they may see.
function(cavum_objects target name)
  cmake_parse_arguments(ROOM "" "" "SOURCES;USES;LIBRARIES" ${ARGN})
  add_library(${target} OBJECT ${ROOM_SOURCES})
  target_include_directories(${target} PUBLIC ${PROJECT_SOURCE_DIR}/include
                                              ${PROJECT_BINARY_DIR}/rooms/${name})
  foreach(lower ${ROOM_USES})
    if(NOT TARGET cavum_${lower})
      message(FATAL_ERROR "The room ${name} uses ${lower}, which does not stand below it.")
    endif()
    target_link_libraries(${target} PUBLIC cavum_${lower})
    target_include_directories(${target} PUBLIC
      $<TARGET_PROPERTY:cavum_${lower},INTERFACE_INCLUDE_DIRECTORIES>)
  endforeach()
  target_link_libraries(${target} PUBLIC ${ROOM_LIBRARIES} m)
endfunction()
