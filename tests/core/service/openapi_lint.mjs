// SPDX-License-Identifier: Apache-2.0
// What a linter that nobody here wrote says to an OpenAPI document, by its strict rules; exit 1 when it says anything.
//   node openapi_lint.mjs FOLDER-WITH-NODE_MODULES DOCUMENT
import {createRequire} from "node:module";
import {join} from "node:path";

const [folder, document] = process.argv.slice(2);
const linter = createRequire(join(folder, "package.json"))("@redocly/openapi-core");
const config = await linter.createConfig({extends: ["recommended-strict"]});
const problems = await linter.lint({ref: document, config});
for (const problem of problems)
  console.log(`${problem.severity}: ${problem.message} (${problem.ruleId}) ${problem.location?.[0]?.pointer ?? ""}`);
process.exit(problems.length === 0 ? 0 : 1);
