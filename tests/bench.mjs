// Drives JupyterLab as a newcomer would, by mouse once and then by keyboard, and prints
// what it saw as JSON.  node bench.mjs MODULES CHROMIUM ADDRESS [PICTURES]
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";

const [modules, chromium, address, pictures] = process.argv.slice(2);
const require = createRequire(pathToFileURL(`${modules}/`));
const browser = await require("playwright-core").chromium.launch({
  executablePath: chromium,
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
const page = await browser.newPage({ viewport: { width: 1250, height: 950 } });
page.setDefaultTimeout(20000);
const elsewhere = [];
page.on("request", (request) => {
  const url = new URL(request.url());
  if (!["127.0.0.1", ""].includes(url.hostname)) elsewhere.push(request.url());
});
const seen = { elsewhere };
const picture = async (name) => pictures && (await page.screenshot({ path: `${pictures}/${name}.png` }));

// Launcher card, title, notebook.
await page.goto(address);
await page.waitForFunction(() => window.jupyterapp, null, { timeout: 30000 });
await page.evaluate(() => window.jupyterapp.restored);
const card = page.locator(".jp-LauncherCard", { hasText: "Investigation" });
await card.first().waitFor();
await picture("launcher");
await card.first().click();
const dialog = page.locator(".jp-Dialog");
await dialog.locator("input").fill("Garden pump trips");
await picture("dialog");
await dialog.locator("input").press("Enter");
await page.waitForFunction(() => window.jupyterapp.shell.currentWidget?.context?.path?.endsWith("investigation.ipynb"));
seen.opened = await page.evaluate(async () => {
  const w = window.jupyterapp.shell.currentWidget;
  await w.context.ready;
  await w.sessionContext.ready;
  await w.sessionContext.session.kernel.info;
  return w.context.path;
});

// The same title once more: refused, with its reason.
const again = await page.evaluate(() => {
  window.begun = window.jupyterapp.commands.execute("benchproof:new-case", { title: "Garden pump trips", folder: "" });
  return true;
});
await dialog.waitFor();
seen.refused = again && (await dialog.innerText());
await page.keyboard.press("Enter");
await dialog.locator("input").waitFor();
await page.keyboard.press("Escape");
await dialog.waitFor({ state: "detached" });

// A cell with the panel; run everything.
const runAll = () =>
  page.evaluate(async () => {
    const w = window.jupyterapp.shell.currentWidget;
    await window.jupyterapp.commands.execute("notebook:run-all-cells");
    return w.content.widgets
      .filter((c) => c.model.type === "code")
      .flatMap((c) => c.model.sharedModel.getOutputs())
      .filter((o) => o.output_type === "error")
      .map((o) => `${o.ename}: ${o.evalue}`);
  });
await page.evaluate(() => {
  const w = window.jupyterapp.shell.currentWidget;
  const cells = w.content.model.sharedModel;
  const where = cells.cells.findIndex((c) => c.source.includes('case.record("V_min"'));
  if (!cells.cells.some((c) => c.source.includes("case.entry()"))) cells.insertCell(where, { cell_type: "code", source: "case.entry()" });
});
const count = () => page.evaluate(() => window.jupyterapp.shell.currentWidget.content.widgets.length);
seen.cells_before = await count();
seen.problems = await runAll();
const panel = page.locator(".bpe").last();
await panel.waitFor();
await panel.scrollIntoViewIfNeeded();
const line = panel.getByLabel("Reading", { exact: true });
const answered = async (text) => panel.locator(".bpe-answer", { hasText: text }).waitFor();
await line.focus();
const type = async (text, expected) => {
  await page.keyboard.type(text);
  await page.keyboard.press("Enter");
  await answered(expected);
};
await panel.locator("select").nth(1).selectOption("handheld");
await line.focus();
await type("V_idle 12.10 V", "12.10 V");
await type("12.09", "2 readings");
seen.focused = await line.evaluate((e) => e === document.activeElement);
seen.emptied = await line.inputValue();
await type("12,08", "comma");
seen.kept = await line.inputValue();
await line.fill("");
await type("1.209", "1.209 V");
seen.flags = await panel.locator(".bpe-flags li").allInnerTexts();
await panel.getByRole("button", { name: "Strike" }).first().press("Enter");
await type("the point was left out", "is struck");
seen.back = await line.evaluate((e) => e === document.activeElement);
await picture("panel-light");
await type("dd", "dd");  // two bare letters delete a cell where a panel lets them through
await type("V_load 11.39 V", "11.39 V");
seen.table = await page.locator(".jp-OutputArea-output .bp", { hasText: "Latest readings" }).last().innerText();
if (pictures) {
  await page.evaluate(() => window.jupyterapp.commands.execute("apputils:change-theme", { theme: "JupyterLab Dark" }));
  await page.waitForTimeout(1500);
  await panel.scrollIntoViewIfNeeded();
  await picture("panel-dark");
}

seen.later = await runAll();
seen.cells = await count();
await page.evaluate(() => window.jupyterapp.shell.currentWidget.context.save());
await browser.close();
console.log(JSON.stringify(seen));
