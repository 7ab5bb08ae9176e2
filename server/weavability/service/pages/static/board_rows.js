// A row of the board: how its verdict is named, and what is different from the answer seen last.

export const KINDS = {
  bad: ["bad", "✕", "Not weavable"],
  fair: ["fair", "!", "Weavable, with warnings"],
  good: ["good", "✓", "Weavable"],
  lost: ["plain", "?", "Cannot be judged"],
  new: ["plain", "…", "Not polled yet"],
};
const KIND_OF = { not_weavable: "bad", weavable_with_warnings: "fair", weavable: "good" };
export const OWN_LOOM = "stated in the link";

export function kindOf(row) {
  if (row.problem) return "lost";
  return KIND_OF[row.verdict] || "new";
}

export function answerOf(row) {
  const { verdict, codes, severities, problem } = row;
  return { verdict, codes, severities, problem };
}

// What is different from the answer that was seen last; null if nothing is.
export function changeOf(row) {
  const { seen } = row;
  if (!seen) return null;
  const was = kindOf(seen) === kindOf(row) ? null : KINDS[kindOf(seen)][2];
  const added = row.codes.filter((code) => !seen.codes.includes(code));
  const cleared = row.problem ? [] : seen.codes.filter((code) => !row.codes.includes(code));
  const graded = seen.severities && row.severities && !row.problem;
  const regraded = !graded ? [] : row.codes.flatMap((code, place) => {
    const before = seen.severities[seen.codes.indexOf(code)];
    return before && before !== row.severities[place] ? [[code, before, row.severities[place]]] : [];
  });
  const said = (row.problem || null) !== (seen.problem || null);
  return was || added.length || cleared.length || regraded.length || said ? { was, added, cleared, regraded } : null;
}

// Take an answer of the service; true if it is another one than was known.
export function take(row, item) {
  const now = Date.now();
  const before = kindOf(row);
  const known = JSON.stringify(answerOf(row));
  if (item.problem) {
    Object.assign(row, { problem: saidOf(item.problem), etag: "", codes: [], severities: [] });
  } else {
    const { etag, verdict, codes, severities, cloth, loom_id: loom } = item;
    Object.assign(row, { etag, verdict, codes, severities: severities || null, problem: null });
    row.cloth = cloth || row.cloth;
    row.loom = loom || OWN_LOOM;
  }
  if (before === "new") row.seen = answerOf(row);
  if (kindOf(row) !== before) row.since = now;
  const change = changeOf(row);
  const isNews = change !== null && known !== JSON.stringify(answerOf(row));
  if (isNews) row.changed = now;
  if (!change) row.changed = null;
  return isNews;
}

function saidOf({ errors, detail, title }) {
  const [first] = errors || [];
  if (!first) return detail || title;
  return typeof first.given === "string" ? `${first.given}: ${first.message}` : first.message;
}

// Whether the service, and not the link, is the reason that there is no answer: it is asked again.
export function isPassing({ problem }) {
  return problem && (problem.status >= 500 || problem.status === 429);
}
