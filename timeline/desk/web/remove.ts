// Removing a lesson: the question says what goes and what stays.
import { ask } from "./dialogs";
import { byId, h } from "./dom";
import { post } from "./server";

/** Asks, and removes the lesson; says whether it was. */
export async function removeLesson(id: string): Promise<boolean> {
  const answer = await fetch(`/lessons/${id}/removal`);
  if (!answer.ok) throw new Error(((await answer.json()) as { error: string }).error);
  const what = (await answer.json()) as { title: string; goes: string[]; stays: string[] };
  byId("remove-goes").replaceChildren(...what.goes.map((g) => h("li", {}, g)));
  byId("remove-stays").replaceChildren(...what.stays.map((g) => h("p", {}, g)));
  if (!(await ask("remove", {}, `“${what.title}”`))) return false;
  await post(`/lessons/${id}/remove`, "");
  return true;
}
