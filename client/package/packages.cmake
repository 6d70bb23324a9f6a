# What is installed, and the two Debian packages that are made of it:
#   cmake --build build/release --target described && (cd build/release && cpack)
set(FIELDPEG_DATE "2026-11-29")  # of the last change that users see; client/package/changelog

# Manual pages and completion come from the one definition of the command lines. Where programs are
# built for another machine than this one, CMAKE_CROSSCOMPILING_EMULATOR runs the tool.
add_executable(fieldpeg_describe client/describe.cc)
target_link_libraries(fieldpeg_describe PRIVATE
    fieldpeg::verbs fieldpegd_options CLI11::CLI11 fieldpeg_flags)
target_compile_definitions(fieldpeg_describe PRIVATE
    FIELDPEG_VERSION="${PROJECT_VERSION}" FIELDPEG_DATE="${FIELDPEG_DATE}")
set(described ${PROJECT_BINARY_DIR}/described)
set(pages fieldpeg.1 fieldpegd.8 fieldpegd.bash fieldpegd.zsh fieldpegd.fish)
list(TRANSFORM pages PREPEND ${described}/)
add_custom_command(OUTPUT ${pages}
    COMMAND fieldpeg_describe ${described}
    COMMAND gzip -9nkf ${described}/fieldpeg.1 ${described}/fieldpegd.8
    DEPENDS fieldpeg_describe VERBATIM)
add_custom_target(described ALL DEPENDS ${pages})
add_dependencies(described fieldpeg fieldpegd)

configure_file(client/package/org.fieldpeg.Fieldpeg.metainfo.xml
    ${described}/org.fieldpeg.Fieldpeg.metainfo.xml @ONLY)
file(READ LICENSE licence)
string(REGEX REPLACE "^[^\n]*\n\n[^\n]*\n\n" "" LICENSE_TEXT "${licence}")
string(REGEX REPLACE "\n\n" "\n.\n" LICENSE_TEXT "${LICENSE_TEXT}")
string(REGEX REPLACE "\n$" "" LICENSE_TEXT "${LICENSE_TEXT}")
string(REPLACE "\n" "\n " LICENSE_TEXT " ${LICENSE_TEXT}")
configure_file(client/package/copyright.in ${described}/copyright @ONLY)
execute_process(COMMAND gzip -9nc ${PROJECT_SOURCE_DIR}/client/package/changelog
    OUTPUT_FILE ${described}/changelog.gz)

include(GNUInstallDirs)
set(share ${CMAKE_INSTALL_DATADIR})
foreach(part client server)
    set(package fieldpeg)
    if(part STREQUAL server)
        set(package fieldpegd)
    endif()
    install(TARGETS ${package} COMPONENT ${part})
    install(FILES ${described}/copyright ${described}/changelog.gz
        DESTINATION ${share}/doc/${package} COMPONENT ${part})
endforeach()

# The programs carry their data with them; what is installed beside them is to be read.
install(DIRECTORY server/data/ DESTINATION ${share}/fieldpeg COMPONENT client
    FILES_MATCHING PATTERN "*.toml" PATTERN "*_day.toml" EXCLUDE)
install(FILES client/demo_day.toml DESTINATION ${share}/fieldpeg COMPONENT client)
install(FILES README.md DEVELOPERS.md DESTINATION ${share}/doc/fieldpeg COMPONENT client)
install(DIRECTORY docs/ DESTINATION ${share}/doc/fieldpeg/docs COMPONENT client)
install(FILES ${described}/fieldpeg.1.gz DESTINATION ${share}/man/man1 COMPONENT client)
install(FILES client/package/fieldpeg.bash RENAME fieldpeg
    DESTINATION ${share}/bash-completion/completions COMPONENT client)
install(FILES client/package/fieldpeg.zsh RENAME _fieldpeg
    DESTINATION ${share}/zsh/vendor-completions COMPONENT client)
install(FILES client/package/fieldpeg.fish
    DESTINATION ${share}/fish/vendor_completions.d COMPONENT client)
install(FILES ${described}/org.fieldpeg.Fieldpeg.metainfo.xml
    DESTINATION ${share}/metainfo COMPONENT client)

install(FILES ${described}/fieldpegd.8.gz DESTINATION ${share}/man/man8 COMPONENT server)
install(FILES ${described}/fieldpegd.bash RENAME fieldpegd
    DESTINATION ${share}/bash-completion/completions COMPONENT server)
install(FILES ${described}/fieldpegd.zsh RENAME _fieldpegd
    DESTINATION ${share}/zsh/vendor-completions COMPONENT server)
install(FILES ${described}/fieldpegd.fish
    DESTINATION ${share}/fish/vendor_completions.d COMPONENT server)
install(FILES server/fieldpegd.service DESTINATION lib/systemd/system COMPONENT server)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME fieldpeg)
set(CPACK_PACKAGE_VENDOR "The Fieldpeg team")
set(CPACK_PACKAGE_CONTACT "The Fieldpeg team <team@fieldpeg.invalid>")
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_ALL client server)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_SECTION hamradio)
set(CPACK_DEBIAN_CLIENT_PACKAGE_NAME fieldpeg)
set(CPACK_DEBIAN_SERVER_PACKAGE_NAME fieldpegd)
set(CPACK_DEBIAN_CLIENT_PACKAGE_RECOMMENDS "less, tzdata")
set(CPACK_DEBIAN_SERVER_PACKAGE_DEPENDS adduser)
set(CPACK_DEBIAN_SERVER_PACKAGE_RECOMMENDS fieldpeg)
set(CPACK_DEBIAN_SERVER_PACKAGE_SUGGESTS postgresql)
set(CPACK_COMPONENT_CLIENT_DESCRIPTION "Keep the video channels of a flying day apart
Reckons who can see, who cannot and why, from declared gear and places; plans
channels and flight groups; checks ground relays before they are switched on;
and speaks with the server of the day. It advises: a good verdict is no
promise and no clearance to launch.")
set(CPACK_COMPONENT_SERVER_DESCRIPTION "Server of a flying day, for clients and phones
Keeps the log of a club flying day, gives channels and leave to switch on, and
serves the page for phones. It advises: a good verdict is no promise and no
clearance to launch.")
set(CPACK_DEBIAN_SERVER_PACKAGE_CONTROL_EXTRA
    "${PROJECT_SOURCE_DIR}/server/package/postinst;${PROJECT_SOURCE_DIR}/server/package/prerm;${PROJECT_SOURCE_DIR}/server/package/postrm")
set(CPACK_DEBIAN_SERVER_PACKAGE_CONTROL_STRICT_PERMISSION ON)
include(CPack)
