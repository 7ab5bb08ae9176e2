// Judge an order line at the moment it is entered: the same as order_entry_hook.py, for Node 18 or later
// and for every other runtime with fetch. Needs no package.
//
//   WEAVABILITY_URL=http://127.0.0.1:8080 node order_entry_hook.mjs < request.json

const WITHIN_MS = 5000;

/**
 * Return what to do with an order line, given as {"construction": …, "loom_id": …}.
 * An order that cannot be woven is held with the reasons and the way out, and so is one whose verdict
 * hangs on what nobody stated, or that could not be judged.
 */
export async function judgeLine(address, request, token) {
  let answer;
  let body;
  try {
    answer = await fetch(`${address}/v1/validations`, {
      method: "POST",
      headers: {
        "Content-Type": "application/json",
        Accept: "application/json, application/problem+json",
        ...(token ? { Authorization: `Bearer ${token}` } : {}),
      },
      body: JSON.stringify(request),
      signal: AbortSignal.timeout(WITHIN_MS),
    });
    body = await answer.json();
  } catch (error) {
    return { action: "hold", remarks: [`Not judged, ask the planner: ${error.message}`], link: null };
  }
  if (!answer.ok) {
    const faults = (body.errors ?? []).map((fault) => `${fault.pointer}: ${fault.message}`);
    const remarks = faults.length ? faults : [`Not judged, ask the planner: ${body.detail}`];
    return { action: "hold", remarks, link: null };
  }
  const grave = body.findings.filter((finding) => finding.severity !== "note");
  const doubt = body.verdict_note ? [body.verdict_note] : [];
  const said = grave.map((each) => `${each.severity} ${each.code}: ${each.message}`);
  const woven = body.verdict !== "not_weavable";
  const remarks = [...doubt, ...said, ...(woven ? [] : waysOut(body.findings)), body.caution];
  return { action: woven && !doubt.length ? "accept" : "hold", remarks, link: body.links.self };
}

/** Return each change that makes the order weavable once; without any, what each one clears. */
function waysOut(findings) {
  const errors = findings.filter((each) => each.severity === "error");
  const listed = errors.flatMap((finding) => finding.remedies);
  const helpful = listed.filter((each) => each.verdict && each.verdict !== "not_weavable");
  const lines = helpful.length
    ? helpful.map((each) => `This would help: ${each.message}`)
    : listed.map((each) => `Not enough alone, clears ${each.clears.join(", ")}: ${each.message}`);
  return [...new Set(lines)];
}

/** Return what to do with an order line in JSON; with what is no request, a hold. */
async function judgeText(address, text, token) {
  let request;
  try {
    request = JSON.parse(text);
  } catch (error) {
    const remarks = [`Not judged, the request is not JSON: ${error.message}`];
    return { action: "hold", remarks, link: null };
  }
  return judgeLine(address, request, token);
}

if (import.meta.url === `file://${process.argv[1]}`) {
  const chunks = [];
  for await (const chunk of process.stdin) chunks.push(chunk);
  const text = Buffer.concat(chunks).toString("utf8");
  const address = process.env.WEAVABILITY_URL ?? "http://127.0.0.1:8080";
  console.log(JSON.stringify(await judgeText(address, text, process.env.WEAVABILITY_TOKEN), null, 2));
}
