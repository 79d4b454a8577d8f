/** Counts the iterations of the event loop until a promise is settled: how often other requests could be served. */
export async function turnsDuring<T>(work: Promise<T>): Promise<{ turns: number; result: T }> {
  let turns = 0
  let done = false
  const ended = work.finally(() => {
    done = true
  })
  while (!done) {
    await new Promise<void>((resolve) => setImmediate(resolve))
    turns++
  }
  return { turns, result: await ended }
}
