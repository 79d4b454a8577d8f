export default {
  service: { input: process.env.DOCUMENT, output: { target: 'generated/orval.ts', client: 'fetch' } },
}
