// The AsyncAPI project's own parser judges config/asyncapi.json. Not part of the Python tests: it needs node and npm.
//
//   npm install --prefix DIR @asyncapi/parser@3
//   node tests/doors/asyncapi.mjs DIR config/asyncapi.json
//
// Ends with 1 when the document has an error or a warning.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";

const [folder, file] = process.argv.slice(2);
const { Parser } = createRequire(join(resolve(folder), "package.json"))("@asyncapi/parser");
const { document, diagnostics } = await new Parser().parse(readFileSync(file, "utf8"));
const grave = diagnostics.filter((d) => d.severity <= 1); // 0 error, 1 warning, 2 information, 3 hint
for (const d of grave) console.log(`${d.severity === 0 ? "error" : "warning"} ${d.path.join(".")}: ${d.message}`);
if (document) console.log(`${file}: AsyncAPI ${document.version()}, ${document.channels().length} channels, ${document.operations().length} operations`);
process.exit(grave.length > 0 || !document ? 1 : 0);
