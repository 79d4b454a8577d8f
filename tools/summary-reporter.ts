import type { Reporter, TestModule } from 'vitest/node'

/** The last line of `npm test`: how many tests passed and failed. */
export default class SummaryReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[]): void {
    let passed = 0
    let failed = 0
    for (const module of modules) {
      // A file that cannot be run at all holds no tests, and is a failure all the same.
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
