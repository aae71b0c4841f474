# Writes the files named in FILES as byte arrays, with one table TABLE that finds them by name.
# A name is the path below shared/ or the project's root: "rules/boxing.ini", "schema/001-log.sql".
set(arrays "")
set(rows "")
set(n 0)
foreach(file IN LISTS FILES)
  file(READ ${ROOT}/${file} hex HEX)
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${hex}")
  string(REGEX REPLACE "^shared/" "" name ${file})
  string(APPEND arrays "static const unsigned char file_${n}[] = {${bytes}0};\n")
  string(APPEND rows "    {\"${name}\", (const char *)file_${n}, sizeof file_${n} - 1},\n")
  math(EXPR n "${n} + 1")
endforeach()
file(WRITE ${OUT} "#include \"ringtally/base/embedded.h\"\n\n${arrays}\n"
  "extern const struct embedded ${TABLE}[];\nconst struct embedded ${TABLE}[] = {\n${rows}    {0, 0, 0},\n};\n")
