# SPDX-License-Identifier: GPL-3.0-or-later
# What reports carry inside them: our style sheet and script, and the plotting library that npm
# fetches at a pinned version with its integrity (solver/report/web/package-lock.json).
set(CAVUM_PLOTS "AUTO" CACHE STRING "Plots to hover and zoom in reports: ON, OFF, or AUTO (if npm can bring the library)")
set_property(CACHE CAVUM_PLOTS PROPERTY STRINGS AUTO ON OFF)

set(web_source ${CMAKE_CURRENT_SOURCE_DIR}/solver/report/web)
set(web_build ${CMAKE_CURRENT_BINARY_DIR}/web)
set(web_library ${web_build}/node_modules/uplot)

# Fetches what the lock file of a folder names into another folder, unless it was fetched before; FILE,
# below node_modules, is what it is fetched for. WHY is empty, or says why it is not there.
function(cavum_fetch_from_npm why source build file)
  file(SHA256 ${source}/package-lock.json lock)
  set(stamp ${build}/fetched-${lock})
  set(${why} "" PARENT_SCOPE)
  if(EXISTS ${stamp} AND EXISTS ${build}/node_modules/${file})
    return()
  endif()
  find_program(CAVUM_NPM npm)
  if(NOT CAVUM_NPM)
    set(${why} "npm is not installed (scripts/install-packages brings it)" PARENT_SCOPE)
    return()
  endif()
  file(COPY ${source}/package.json ${source}/package-lock.json DESTINATION ${build})
  execute_process(COMMAND ${CAVUM_NPM} ci --ignore-scripts --no-audit --no-fund --prefer-offline
    WORKING_DIRECTORY ${build} RESULT_VARIABLE failed OUTPUT_VARIABLE output ERROR_VARIABLE output
    TIMEOUT 120)
  if(failed OR NOT EXISTS ${build}/node_modules/${file})
    set(${why} "npm ci failed: ${output}" PARENT_SCOPE)
    return()
  endif()
  file(WRITE ${stamp} "")
endfunction()

# A source archive has the library inside (scripts/archive); a checkout fetches it.
set(plots_missing "switched off with CAVUM_PLOTS=OFF")
set(web_scripts ${web_library}/dist)
if(NOT CAVUM_PLOTS STREQUAL "OFF" AND EXISTS ${web_source}/uplot/uPlot.iife.min.js)
  set(plots_missing "")
  set(web_library ${web_source}/uplot)
  set(web_scripts ${web_source}/uplot)
elseif(NOT CAVUM_PLOTS STREQUAL "OFF")
  cavum_fetch_from_npm(plots_missing ${web_source} ${web_build} uplot/dist/uPlot.iife.min.js)
endif()
if(plots_missing AND CAVUM_PLOTS STREQUAL "ON")
  message(FATAL_ERROR "The plotting library of the reports cannot be had: ${plots_missing}\n"
    "Configure with -DCAVUM_PLOTS=OFF for reports with still pictures only.")
elseif(plots_missing AND CAVUM_PLOTS STREQUAL "AUTO")
  message(WARNING "Reports will have still pictures only, no plots to hover and zoom: ${plots_missing}")
endif()

# Name in C and file of each piece; an empty file stands for what is missing.
set(web_files report_css ${web_source}/report.css report_js ${web_source}/report.js)
if(plots_missing)
  file(WRITE ${web_build}/empty "")
  list(APPEND web_files plots_css ${web_build}/empty plots_js ${web_build}/empty
    plots_licence ${web_build}/empty)
  set(CAVUM_HAS_PLOTS OFF)
else()
  list(APPEND web_files plots_css ${web_scripts}/uPlot.min.css
    plots_js ${web_scripts}/uPlot.iife.min.js plots_licence ${web_library}/LICENSE)
  set(CAVUM_HAS_PLOTS ON)
endif()

set(web_dependencies ${web_files})
list(FILTER web_dependencies INCLUDE REGEX "/")
add_custom_command(OUTPUT ${web_build}/web_assets.c
  COMMAND ${CMAKE_COMMAND} "-DFILES=${web_files}" -DOUTPUT=${web_build}/web_assets.c
    -P ${CMAKE_CURRENT_SOURCE_DIR}/scripts/cmake/embed.cmake
  DEPENDS ${web_dependencies} ${CMAKE_CURRENT_SOURCE_DIR}/scripts/cmake/embed.cmake VERBATIM)
target_sources(cavum_report PRIVATE ${web_build}/web_assets.c)
