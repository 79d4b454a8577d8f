export default {
  input: process.env.DOCUMENT,
  output: { path: 'generated/hey-api', module: { extension: '.js' } },
  plugins: ['@hey-api/client-fetch', '@hey-api/typescript', '@hey-api/sdk', 'zod'],
}
