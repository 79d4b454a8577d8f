/** Longest time for which nothing else was done while something was waited for [ms]. */
export async function longestHold(waitedFor: Promise<unknown>): Promise<number> {
  let [longest, last, done] = [0, performance.now(), false]
  const ended = waitedFor.finally(() => {
    done = true
  })
  while (!done) {
    await new Promise<void>((resolve) => setImmediate(resolve))
    const now = performance.now()
    longest = Math.max(longest, now - last)
    last = now
  }
  await ended
  return longest
}
