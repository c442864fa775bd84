// Reads the AsyncAPI document named by the standard's own parser; says what it finds, and fails where it is none.
import { readFileSync } from "node:fs";
import { Parser } from "@asyncapi/parser";

const { document, diagnostics } = await new Parser().parse(readFileSync(process.argv[2], "utf8"));
for (const { severity, message, path } of diagnostics) console.log(severity, message, path.join("."));
console.log(document ? `valid: ${document.operations().length} operations` : "not valid");
process.exit(document ? 0 : 1);
