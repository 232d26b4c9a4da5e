// Save what a screen states, and tell the rest of the app once it is on the tablet.
export async function save(ctx, kind, said) {
  const one = await ctx.visit.save(kind, { openedAt: ctx.openedAt, how: ctx.memory.how, ...said });
  document.dispatchEvent(new CustomEvent("field:saved"));
  if (navigator.vibrate) navigator.vibrate(20);
  return one;
}

// One device passed each task of the visit that is not a reading: a statement for each.
export async function pass(ctx, id) {
  const device = ctx.visit.byId.get(id);
  const tasks = device.tasks.filter((task) => task !== "sensitivity");
  for (const task of tasks) {
    await save(ctx, "result", {
      device: id,
      body: { task, result: "pass", reason: "" },
      supersedes: ctx.visit.standingIds(id, task),
    });
  }
}

export async function takeBack(ctx, id, ids) {
  const standing = ctx.visit.state(id).standing.filter((one) => ids.includes(one.id));
  for (const one of standing) {
    if (one.kind === "replaced") continue;
    await save(ctx, "taken_back", { device: id, body: { task: one.task }, supersedes: [one.id] });
  }
}
