// Asks the service which reports have changed: in parts, no faster than it allows.

// Whole, since a page may have been opened by an address with a name and a token in it.
const ADDRESS = `${location.origin}/v1/validation-changes`;
const MOST_LINKS = 1000;
const LONGEST_BODY = 2000000;
const LONGEST_WAIT_S = 900;
const PATIENCE_MS = 180000;
const UNSEEN = "-"; // the tag of no report: the answer comes whole

export class Away extends Error {}
export class Refused extends Error {}

// Yield the answers to all rows, part by part: [number of links, changed items].
export async function* changes(rows, waiting) {
  let most = MOST_LINKS;
  let from = 0;
  while (from < rows.length) {
    const part = partOf(rows, from, most);
    const answer = await sent(part);
    if (answer.status === 413 && part.length > 1) {
      most = Math.ceil(part.length / 2);
    } else if (answer.status === 429 || answer.status === 503) {
      const seconds = Number(answer.headers.get("Retry-After"));
      if (!(seconds > 0 && seconds <= LONGEST_WAIT_S)) throw new Away(await saidBy(answer));
      waiting(Date.now() + 1000 * seconds, await saidBy(answer));
      await new Promise((resolve) => setTimeout(resolve, 1000 * seconds));
    } else if (answer.status >= 500) {
      throw new Away(await saidBy(answer));
    } else if (!answer.ok) {
      const hint = answer.status === 401 ? " Reload the page to state another token." : "";
      throw new Refused((await saidBy(answer)) + hint);
    } else {
      yield [part.length, await itemsOf(answer)];
      from += part.length;
    }
  }
}

function partOf(rows, from, most) {
  const part = [];
  let bytes = 0;
  for (const row of rows.slice(from, from + most)) {
    // What came from a sheet without these is asked for once, and whole.
    const isWhole = row.etag && row.severities && row.cloth;
    const item = { link: row.link, etag: isWhole ? row.etag : UNSEEN };
    bytes += item.link.length + 80;
    if (part.length && bytes > LONGEST_BODY) break;
    part.push(item);
  }
  return part;
}

async function sent(items) {
  try {
    return await fetch(ADDRESS, {
      method: "POST",
      headers: { "Content-Type": "application/json", Accept: "application/json" },
      body: JSON.stringify({ items }),
      cache: "no-store",
      credentials: "same-origin",
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  } catch {
    throw new Away("it does not answer");
  }
}

async function itemsOf(answer) {
  try {
    const { items } = await answer.json();
    if (Array.isArray(items)) return items;
  } catch {
    // A proxy's page, or an answer that was cut.
  }
  throw new Away("what answers is not the service");
}

async function saidBy(answer) {
  try {
    const problem = await answer.json();
    return problem.detail || problem.title;
  } catch {
    return `status ${answer.status}`;
  }
}
