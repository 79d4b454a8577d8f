import type { Reporter, TestModule } from 'vitest/node'

/** Prints the last line of `npm test`: the number of passed and failed tests. */
export default class SummaryReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[]): void {
    let passed = 0
    let failed = 0
    for (const module of modules) {
      // A file that cannot be loaded has no tests, but counts as a failure.
      if (module.errors().length > 0) failed++
      for (const test of module.children.allTests()) {
        const { state } = test.result()
        if (state === 'passed') passed++
        else if (state === 'failed') failed++
      }
    }
    // After the other reporter, which writes its own summary when this event is over.
    process.once('exit', () => console.log(`${passed} passed, ${failed} failed`))
  }
}
