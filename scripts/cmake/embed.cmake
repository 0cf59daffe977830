# SPDX-License-Identifier: GPL-3.0-or-later
# Writes files as zero-terminated C arrays: cmake -DFILES="name;file;..." -DOUTPUT=assets.c -P embed.cmake
set(text "// Made by scripts/cmake/embed.cmake.\n#include \"report/web_assets.h\"\n\n")
while(FILES)
  list(POP_FRONT FILES name file)
  file(READ ${file} hex HEX)
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${hex}")
  string(REGEX REPLACE "(0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,)" "\\1\n"
    bytes "${bytes}")
  string(APPEND text "const unsigned char cavum_web_${name}[] = {\n${bytes}0x00};\n")
endwhile()
file(WRITE ${OUTPUT} "${text}")
