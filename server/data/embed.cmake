# Writes OUTPUT, a C++ source of FLOOR that holds FILES byte by byte. Run by the build with cmake -P.
set(arrays "")
set(entries "")
foreach(file IN LISTS FILES)
    get_filename_component(name ${file} NAME)
    string(MAKE_C_IDENTIFIER ${name} symbol)
    file(READ ${file} bytes HEX)
    file(SIZE ${file} size)
    string(REGEX REPLACE "(..)" "0x\\1," bytes "${bytes}")
    string(APPEND arrays "constexpr unsigned char ${symbol}[] = {${bytes}0};\n")
    string(APPEND entries "    if (name == \"${name}\") return {reinterpret_cast<const char*>(${symbol}), ${size}};\n")
endforeach()
file(WRITE ${OUTPUT} "#include \"server/${FLOOR}/embedded.h\"\n
namespace fieldpeg::${FLOOR} {
namespace {\n
${arrays}
}  // namespace\n
std::string_view embedded_file(std::string_view name) {
${entries}    return {};
}\n
}  // namespace fieldpeg::${FLOOR}\n")
