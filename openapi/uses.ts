// What programs do with the types that are generated from the document: openapi/lint compiles it.

import type { components, operations } from "./types";

type Answer = operations["validate_construction"]["responses"][200]["content"]["application/json"];

/** A whole report has rates, a summary has none: the union narrows by that member. */
export function speed(answer: Answer): number | null {
  return "rates" in answer ? answer.rates.speed_picks_per_min : answer.speed_picks_per_min;
}

/** Key and values are typed: a value that is a sentence itself has a key of its own. */
export function keys(fault: components["schemas"]["FieldError"]): string[] {
  const values = Object.values(fault.message_values);
  return [fault.message_key, ...values.flatMap((each) => (typeof each === "object" ? [each.message_key] : []))];
}

export function verdict(answer: Answer): string {
  return answer.verdict;
}
