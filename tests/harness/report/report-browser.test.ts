// The report in a real browser: its policy holds, its script runs, nothing is fetched.
import { execFile } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { type Server, createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { promisify } from "node:util";
import { parseHTML } from "linkedom";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { drawCaseSection } from "../../../harness/report/case-section.ts";
import { pageHead, pageTail } from "../../../harness/report/report-page.ts";
import { summaryOf, summaryRow } from "../../../harness/results/summary.ts";
import { sampleCase } from "../../kit/sample-case.ts";
import { sampleRun, wrongCase } from "../../kit/sample-run.ts";
import { systemCommand } from "../../kit/system-package.ts";

const chromium = systemCommand("chromium", "chromium");
const run = promisify(execFile);

let folder = "";
let server: Server;
let asked: string[] = [];

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "amberline-report-"));
  server = createServer((request, response) => {
    asked.push(request.url ?? "");
    response.end();
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
});
afterAll(() => {
  server.close();
  rmSync(folder, { recursive: true, force: true });
});

/** The page's elements after its scripts have run. */
async function openPage(html: string): Promise<ReturnType<typeof parseHTML>["document"]> {
  asked = [];
  const path = join(folder, "report page.html");
  writeFileSync(path, html);
  const flags =
    "--headless --no-sandbox --disable-gpu --no-first-run --disable-background-networking " +
    "--disable-component-update --disable-sync --virtual-time-budget=2000 --dump-dom";
  const profile = `--user-data-dir=${join(folder, "profile")}`;
  const { stdout } = await run(
    chromium!,
    [...flags.split(" "), profile, pathToFileURL(path).href],
    {
      maxBuffer: 64 * 1024 * 1024,
    },
  );
  return parseHTML(stdout).document;
}

/** A report into which markup has come unescaped, as if the escaping had a hole. */
function holedPage(): string {
  const port = (server.address() as AddressInfo).port;
  const hole =
    `<script>document.body.dataset.broken = "script"</script>` +
    `<img src="x:" onerror="document.body.dataset.broken = 'handler'">` +
    `<img src="http://127.0.0.1:${port}/image">` +
    `<link rel="stylesheet" href="http://127.0.0.1:${port}/style">` +
    `<iframe src="http://127.0.0.1:${port}/frame"></iframe>`;
  const cases = [sampleCase(), wrongCase("why")];
  const summary = summaryOf(cases.map(summaryRow), [], sampleRun());
  return pageHead("Run", summary) + cases.map(drawCaseSection).join("") + hole + pageTail();
}

describe.skipIf(chromium === undefined)("report in a browser", () => {
  it("[REP-030] its policy stops scripts, handlers and every fetch, and lets its own script run", async () => {
    const document = await openPage(holedPage());
    expect(document.body.getAttribute("data-broken")).toBeNull();
    expect(asked).toEqual([]);
    expect(document.documentElement.getAttribute("class")).toBe("scripted");
    expect(document.querySelectorAll("#summary th button")).toHaveLength(6);
    expect(document.getElementById("filter-count")?.textContent).toBe("2 of 2 shown");
  });

  it("[REP-031] the same page without its policy is broken: the test above can fail", async () => {
    const html = holedPage().replace(/<meta http-equiv="Content-Security-Policy"[^>]*>/, "");
    const document = await openPage(html);
    expect(document.body.getAttribute("data-broken")).not.toBeNull();
    expect(asked).toContain("/image");
  });

  it("[REP-032] sorts by a column and hides what the filter leaves out, rows and cases", async () => {
    const drive =
      `document.querySelectorAll("#summary th button")[4].click();` +
      `document.querySelectorAll("#summary th button")[4].click();` +
      `document.body.dataset.order = document.querySelector("#summary tbody a").textContent;` +
      `var pick = document.getElementById("filter-verdict"); pick.value = "right";` +
      `pick.dispatchEvent(new Event("change"));`;
    const html = holedPage()
      .replace(/<meta http-equiv="Content-Security-Policy"[^>]*>/, "")
      .replace("</body>", `<script>${drive}</script></body>`);
    const document = await openPage(html);
    expect(document.body.getAttribute("data-order")).toBe("wrong case");
    const shown = [...document.querySelectorAll("section.case:not([hidden]) h2")];
    expect(shown.map((one) => one.textContent)).toEqual(["a blade binds at start"]);
    expect(document.getElementById("filter-count")?.textContent).toBe("1 of 2 shown");
  });
});
