-- Photographs of parts, gauges and labels.

-- CreateTable
CREATE TABLE "photograph" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "case_id" UUID NOT NULL,
    "subject" TEXT NOT NULL,
    "stage" TEXT,
    "caption" TEXT,
    "media_type" TEXT NOT NULL,
    "width_px" INTEGER NOT NULL,
    "height_px" INTEGER NOT NULL,
    "picture" BYTEA NOT NULL,
    "sha256" BYTEA NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "photograph_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateIndex
CREATE INDEX "photograph_org_id_case_id_idx" ON "photograph"("org_id", "case_id");

-- AddForeignKey
ALTER TABLE "photograph" ADD CONSTRAINT "photograph_org_id_case_id_fkey" FOREIGN KEY ("org_id", "case_id") REFERENCES "shop_case"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- Pictures are compressed already: trying again would cost time and gain nothing.
ALTER TABLE "photograph" ALTER COLUMN "picture" SET STORAGE EXTERNAL;

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "photograph" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "photograph" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "photograph" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "photograph" TO coolback_app;
