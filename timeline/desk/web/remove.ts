// Removing a lesson: the question says what goes and what stays.
import { ask } from "./dialogs";
import { byId, h } from "./dom";
import { post } from "./server";

/** Asks, and removes the lesson; says whether it was. The question stays open over what is refused. */
export async function removeLesson(id: string): Promise<boolean> {
  const answer = await fetch(`/lessons/${id}/removal`);
  if (!answer.ok) throw new Error(((await answer.json()) as { error: string }).error);
  const what = (await answer.json()) as { title: string; goes: string[]; stays: string[] };
  byId("remove-goes").replaceChildren(...what.goes.map((g) => h("li", {}, g)));
  byId("remove-stays").replaceChildren(...what.stays.map((g) => h("p", {}, g)));
  return ask("remove", {}, async () => void (await post(`/lessons/${id}/remove`, "")), `“${what.title}”`);
}
