// The tree compiles several sources as one; clang-tidy wants a command for each.
// Usage: node each_source.mjs BUILD_TREE FOLDER: writes FOLDER/compile_commands.json
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";

const [tree, folder] = process.argv.slice(2);
const commands = JSON.parse(readFileSync(`${tree}/compile_commands.json`, "utf8"));
const sources = ({ file }) => file.includes("/Unity/")
    ? [...readFileSync(file, "utf8").matchAll(/^#include "(.+)"$/gm)].map((line) => line[1])
    : [file];
mkdirSync(folder, { recursive: true });
writeFileSync(`${folder}/compile_commands.json`, JSON.stringify(commands.flatMap((whole) =>
    sources(whole).map((file) => ({ ...whole, file, command: whole.command.replaceAll(whole.file, file) })))));
