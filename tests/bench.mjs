// Drives JupyterLab as a newcomer would, by mouse once and then by keyboard, from the
// launcher to a verdict that flips, and prints what it saw as JSON.
//     node bench.mjs MODULES CHROMIUM ADDRESS ROOT [PICTURES]
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";

const [modules, chromium, address, root, pictures] = process.argv.slice(2);
const require = createRequire(pathToFileURL(`${modules}/`));
const browser = await require("playwright-core").chromium.launch({
  executablePath: chromium,
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
const page = await browser.newPage({ viewport: { width: 1250, height: 950 } });
page.setDefaultTimeout(30000);
const elsewhere = [];
const seen = { elsewhere };
const watch = (watched) =>
  watched.on("request", (request) => {
    const { hostname } = new URL(request.url());
    if (!["127.0.0.1", ""].includes(hostname)) elsewhere.push(request.url());
  });
watch(page);

const dark = (on) =>
  page.evaluate(async (theme) => {
    await window.jupyterapp.commands.execute("apputils:change-theme", { theme });
    await new Promise((done) => setTimeout(done, 1200)); // the style sheet is swapped
  }, on ? "JupyterLab Dark" : "JupyterLab Light");
const picture = async (name, shown) => {
  if (!pictures) return;
  for (const theme of ["light", "dark"]) {
    await dark(theme === "dark");
    await shown?.scrollIntoViewIfNeeded();
    await page.screenshot({ path: `${pictures}/${name}-${theme}.png` });
  }
  await dark(false);
};

// Launcher card, title, notebook.
await page.goto(address);
await page.waitForFunction(() => window.jupyterapp, null, { timeout: 30000 });
await page.evaluate(() => window.jupyterapp.restored);
const cards = page.locator(".jp-LauncherCard");
await cards.filter({ hasText: "Investigation" }).first().waitFor();
seen.cards = await cards.allInnerTexts();
await picture("launcher");
await cards.filter({ hasText: "Investigation" }).first().click();
const dialog = page.locator(".jp-Dialog");
await dialog.locator("input").fill("Garden pump trips");
await picture("dialog");
await dialog.locator("input").press("Enter");
await page.waitForFunction(() => window.jupyterapp.shell.currentWidget?.context?.path?.endsWith("investigation.ipynb"));
seen.opened = await page.evaluate(async () => {
  const w = (window.notebook = window.jupyterapp.shell.currentWidget);
  await w.context.ready;
  await w.sessionContext.ready;
  await w.sessionContext.session.kernel.info;
  return w.context.path;
});

// The same title once more: refused, with its reason.
await page.evaluate(() => {
  window.begun = window.jupyterapp.commands.execute("benchproof:new-case", { title: "Garden pump trips", folder: "" });
});
await dialog.waitFor();
seen.refused = await dialog.innerText();
await page.keyboard.press("Enter");
await dialog.locator("input").waitFor();
await page.keyboard.press("Escape");
await dialog.waitFor({ state: "detached" });

// Run everything; what stopped is returned.
const runAll = () =>
  page.evaluate(async () => {
    const { shell, commands } = window.jupyterapp;
    shell.activateById(window.notebook.id);
    await commands.execute("notebook:run-all-cells");
    return window.notebook.content.widgets
      .filter((c) => c.model.type === "code")
      .flatMap((c) => c.model.sharedModel.getOutputs())
      .filter((o) => o.output_type === "error")
      .map((o) => `${o.ename}: ${o.evalue}`);
  });
const count = () => page.evaluate(() => window.notebook.content.widgets.length);
const table = (caption) => page.locator(".jp-OutputArea-output .bp", { hasText: caption }).last();
// As text, from the notebook itself: what is out of sight is not in the page.
const printed = (caption) =>
  page.evaluate((wanted) =>
    window.notebook.content.widgets
      .filter((c) => c.model.type === "code")
      .flatMap((c) => c.model.outputs.toJSON())
      .map((o) => [o.data?.["text/plain"] ?? ""].flat().join(""))
      .filter((text) => text.startsWith(wanted))
      .pop(), caption);
seen.cells_before = await count();
seen.problems = await runAll();

// The panel, by keyboard.
const panel = page.locator(".bpe").last();
const line = panel.getByLabel("Reading", { exact: true });
const toPanel = async () => {
  await panel.waitFor();
  await panel.scrollIntoViewIfNeeded();
  await line.focus();
};
const type = async (text, expected) => {
  await page.keyboard.type(text);
  await page.keyboard.press("Enter");
  await panel.locator(".bpe-answer", { hasText: expected }).waitFor();
};
await toPanel();
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
await picture("panel", panel);
await toPanel();
await type("dd", "dd"); // two bare letters delete a cell where a panel lets them through
await type("V_load 11.39 V", "11.39 V");
await type("V_min 8.41 V", "8.41 V");
await type("8.43", "2 readings");
seen.table = await printed("Latest readings");

seen.later = await runAll();
seen.verdicts = await printed("Verdicts");
await picture("verdicts", table("Verdicts"));
seen.cells = await count();

// Run afresh and published by the button of its toolbar.
const writeUp = async (name) => {
  await page.evaluate(() => window.jupyterapp.shell.activateById(window.notebook.id));
  await page.locator(".jp-NotebookPanel-toolbar").getByText("Publish").click();
  await dialog.locator("pre").waitFor({ timeout: 120000 });
  const said = await dialog.innerText();
  await picture(`${name}-said`);
  await dialog.getByText("Open the write-up").click();
  await page.waitForFunction(() => window.jupyterapp.shell.currentWidget?.context?.path?.endsWith(".html"));
  const opened = await page.evaluate(() => window.jupyterapp.shell.currentWidget.context.path);
  await page.waitForTimeout(1000);
  await picture(`${name}-opened`);
  const read = await browser.newPage({ viewport: { width: 1100, height: 950 } });
  watch(read);
  await read.goto(pathToFileURL(`${root}/${opened}`).href);
  const text = await read.locator("body").innerText();
  for (const colorScheme of pictures ? ["light", "dark"] : []) {
    await read.emulateMedia({ colorScheme });
    await read.screenshot({ path: `${pictures}/${name}-${colorScheme}.png`, fullPage: true });
  }
  await read.close();
  return { said, text };
};
seen.published = await writeUp("write-up");

// Somebody objects: a round, one reading, and everything once more.
await page.evaluate(() => {
  const cells = window.notebook.content.model.sharedModel;
  cells.insertCell(cells.cells.length - 1, {
    cell_type: "code",
    source: 'case.objection("the probe picked up the pump", by="a reader", date="2026-11-25")',
  });
});
seen.objected = await runAll();
await toPanel();
await panel.locator(".bpe-round", { hasText: "Round 2" }).waitFor();
await type("V_min 9.02 V", "9.02 V");
await type("9.03", "2 readings");
seen.remeasured = await runAll();
seen.flipped = await printed("Rounds");
await picture("rounds", table("Rounds"));
seen.republished = await writeUp("write-up-again");

// Trials, one key each, faster than the kernel answers; then a word in full.
await page.evaluate(async () => {
  const { kernel } = window.notebook.sessionContext.session;
  await kernel.requestExecute({
    code: 'case.trials.plan("power", outcomes=["lost", "kept"], repetitions=2, seed=1, stop="2 of each", factors={"supply": ["brick", "bench"]}, control={"supply": "bench"})',
  }).done;
});
await page.evaluate(() => window.jupyterapp.shell.activateById(window.notebook.id));
await runAll();
await toPanel();
await panel.getByLabel("Trials").check();
await panel.locator(".bpe-asked", { hasText: "Place 1 of 4" }).waitFor();
await line.focus();
await page.keyboard.type("lkk");
await panel.locator(".bpe-asked", { hasText: "Place 4 of 4" }).waitFor();
await page.keyboard.type("kept", { delay: 150 });
await panel.locator(".bpe-asked", { hasText: "Nothing is left" }).waitFor();
seen.attempts = await panel.locator(".bpe-list tbody tr").allInnerTexts();
await picture("trials", panel);
await browser.close();
console.log(JSON.stringify(seen));
