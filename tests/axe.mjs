// Prints what axe-core finds on a page, in both colour schemes and two widths, as JSON.
// node axe.mjs MODULES CHROMIUM PAGE
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";

const [modules, chromium, page] = process.argv.slice(2);
const require = createRequire(pathToFileURL(`${modules}/`));
const axe = require("axe-core");
const browser = await require("playwright-core").chromium.launch({
  executablePath: chromium,
  args: ["--no-sandbox", "--disable-gpu"],
});
const found = [];
for (const colorScheme of ["light", "dark"]) {
  for (const width of [1100, 390]) {
    const context = await browser.newContext({
      colorScheme,
      viewport: { width, height: 1400 },
      bypassCSP: true,
    });
    const tab = await context.newPage();
    const asked = [];
    tab.on("request", (request) => asked.push(request.url()));
    await tab.goto(pathToFileURL(page).href);
    await tab.evaluate(() => {
      for (const fold of document.querySelectorAll("details")) fold.open = true;
    });
    const fetched = asked.filter((url) => !url.startsWith("data:")).slice(1);
    await tab.evaluate(axe.source);
    const { violations, passes } = await tab.evaluate(() =>
      axe.run({
        runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
      }),
    );
    found.push({
      where: `${colorScheme}, ${width} px`,
      fetched,
      checked: passes.map(({ id }) => id),
      violations: violations.map(({ id, help, nodes }) => ({
        id,
        help,
        where: nodes.slice(0, 5).map(({ target, failureSummary }) => [target.join(" "), failureSummary]),
      })),
    });
    await context.close();
  }
}
await browser.close();
console.log(JSON.stringify(found));
