# Embeds files in a room: the files as they stand and packed, with a table by their names. A changed file is embedded anew.
# Lines of a script that are comments, and the indentation, stay behind: a browser has no use for them, and the page is held
# to a size. So no text of a script may go over a line's end.
function(stillmark_embed target)
  set(folder ${CMAKE_BINARY_DIR}/page_files)
  file(MAKE_DIRECTORY ${folder})
  find_program(GZIP gzip REQUIRED)
  find_program(SED sed REQUIRED)
  set(pieces "")
  set(symbols "")
  set(table "")
  set(needed "")
  set(number 0)
  foreach(file ${ARGN})
    cmake_path(GET file FILENAME name)
    if(name MATCHES "\\.(js|css)$" AND file MATCHES "^${CMAKE_SOURCE_DIR}/")
      set(bare ${folder}/${name})
      add_custom_command(OUTPUT ${bare} COMMAND ${SED} -e "/^ *\\/\\//d" -e "s/^ *//" ${file} > ${bare} DEPENDS ${file} VERBATIM)
      set(file ${bare})
    endif()
    set(packed ${folder}/${name}.gz)
    add_custom_command(OUTPUT ${packed} COMMAND ${GZIP} -9 -n -c ${file} > ${packed} DEPENDS ${file} VERBATIM)
    list(APPEND needed ${file} ${packed})
    foreach(form plain packed)
      set(symbol stillmark_page_${number}_${form})
      set(path ${file})
      if(form STREQUAL "packed")
        set(path ${packed})
      endif()
      string(APPEND pieces "${symbol}: .incbin \\\"${path}\\\"\\n${symbol}_end: .byte 0\\n")
      string(APPEND symbols "extern \"C\" const char ${symbol}[], ${symbol}_end[];\n")
      set(view_${form} "{${symbol}, static_cast<std::size_t>(${symbol}_end - ${symbol})}")
    endforeach()
    string(APPEND table "        PageFile{\"${name}\", ${view_plain}, ${view_packed}},\n")
    math(EXPR number "${number} + 1")
  endforeach()
  set(source ${folder}/embedded.cpp)
  file(CONFIGURE OUTPUT ${source} @ONLY CONTENT [[#include "daemon/gateway/page_files.hpp"

#include <array>

__asm__(".section .rodata\n@pieces@.text\n");
@symbols@
namespace stillmark::gateway {

std::span<const PageFile> page_files() {
    static const std::array files = {
@table@    };
    return files;
}

} // namespace stillmark::gateway
]])
  # By itself: a file that is joined with others has no such list.
  set_source_files_properties(${source} PROPERTIES OBJECT_DEPENDS "${needed}" SKIP_UNITY_BUILD_INCLUSION ON)
  target_sources(${target} PRIVATE ${source})
endfunction()
