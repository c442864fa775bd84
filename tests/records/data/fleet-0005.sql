SET check_function_bodies = false;
CREATE FUNCTION public.fleet_by_an_older_writer() RETURNS text
    LANGUAGE plpgsql
    AS $$
BEGIN
    RAISE EXCEPTION 'an older writer, which does not know of decisions: start a newer one';
END $$;
CREATE FUNCTION public.fleet_let_go(most bigint, most_bytes bigint) RETURNS TABLE(reason text, number bigint, bytes bigint)
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
#variable_conflict use_column
BEGIN
    IF NOT pg_try_advisory_xact_lock(1381254222) THEN
        RETURN;
    END IF;
    RETURN QUERY WITH placed AS (
        SELECT f.sha256, f.topic, f.reason, t.sha256 IS NOT NULL AS is_taken,
            row_number() OVER kept_first AS place, sum(octet_length(f.payload)) OVER kept_first AS so_far
        FROM fleet_refused AS f LEFT JOIN fleet_taken_up AS t ON (t.sha256, t.topic) = (f.sha256, f.topic)
        WINDOW kept_first AS (
            ORDER BY t.sha256 IS NOT NULL,
                f.reason NOT IN ('newer', 'other-key', 'unknown-bay', 'contradicted', 'unfit'),
                f.stored DESC, f.sha256, f.topic, f.reason
            ROWS UNBOUNDED PRECEDING
        )
    ), gone AS (
        DELETE FROM fleet_refused AS f USING placed AS p
        WHERE (f.sha256, f.topic, f.reason) = (p.sha256, p.topic, p.reason)
        AND (p.place > most OR p.so_far > most_bytes)
        RETURNING f.reason, octet_length(f.payload) AS bytes, p.is_taken
    ), counted AS (
        SELECT g.reason, count(*) AS number, sum(g.bytes)::bigint AS bytes FROM gone AS g
        WHERE NOT g.is_taken GROUP BY g.reason
    ), told AS (
        INSERT INTO fleet_refused_gone AS k (reason, number, bytes, latest)
        SELECT c.reason, c.number, c.bytes, now() FROM counted AS c
        ON CONFLICT (reason) DO UPDATE
        SET number = k.number + excluded.number, bytes = k.bytes + excluded.bytes, latest = excluded.latest
    )
    SELECT c.reason, c.number, c.bytes FROM counted AS c ORDER BY c.reason;
END $$;
CREATE FUNCTION public.fleet_make_month(wanted date) RETURNS void
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
DECLARE
    first date := date_trunc('month', wanted)::date;
    part text := 'fleet_results' || to_char(first, '_YYYY_MM');
BEGIN
    PERFORM pg_advisory_xact_lock(1381254221);
    IF to_regclass(part) IS NULL THEN
        EXECUTE format('CREATE TABLE %I (LIKE fleet_results INCLUDING DEFAULTS)', part);
        EXECUTE format('ALTER TABLE %I ALTER COLUMN document SET STORAGE EXTERNAL', part);
        EXECUTE format('ALTER TABLE fleet_results ATTACH PARTITION %I FOR VALUES FROM (%L) TO (%L)',
            part, first, (first + interval '1 month')::date);
    END IF;
END $$;
CREATE FUNCTION public.fleet_withdraw(of_site text, of_bay text, of_inspection text, of_revision integer) RETURNS bytea
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
DECLARE
    held fleet_revisions;
    gone bytea;
BEGIN
    SELECT * INTO held FROM fleet_revisions
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision);
    IF held IS NULL OR NOT EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (of_site, of_bay, of_inspection, of_revision)
    ) OR EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (of_site, of_bay, of_inspection, of_revision)
        AND c.document_sha256 = held.sha256
    ) THEN
        RETURN NULL;
    END IF;
    DELETE FROM fleet_results
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision)
    AND month = held.month RETURNING document INTO gone;
    DELETE FROM fleet_revisions
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision);
    RETURN gone;
END $$;
CREATE TABLE public.fleet_asked (
    site text NOT NULL,
    bay text NOT NULL,
    asked timestamp with time zone DEFAULT now() NOT NULL,
    since text NOT NULL,
    why text NOT NULL
);
CREATE TABLE public.fleet_bay_keys (
    site text NOT NULL,
    bay text NOT NULL,
    key text NOT NULL,
    how text NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL
);
CREATE TABLE public.fleet_breaks (
    site text NOT NULL,
    bay text NOT NULL,
    chain text NOT NULL,
    place integer NOT NULL,
    what text NOT NULL,
    why text NOT NULL,
    inspection text,
    revision integer,
    stored timestamp with time zone DEFAULT now() NOT NULL
);
CREATE TABLE public.fleet_chain (
    site text NOT NULL,
    bay text NOT NULL,
    chain text NOT NULL,
    place integer NOT NULL,
    sha256 text NOT NULL,
    inspection text,
    revision integer,
    document_sha256 text,
    later boolean,
    after_chain text,
    after_size integer,
    after_root text,
    "time" text NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL,
    record bytea NOT NULL
);
CREATE TABLE public.fleet_checkpoints (
    site text NOT NULL,
    bay text NOT NULL,
    chain text NOT NULL,
    size integer NOT NULL,
    root text NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL,
    message bytea NOT NULL
);
CREATE TABLE public.fleet_walked (
    site text NOT NULL,
    bay text NOT NULL,
    chain text NOT NULL,
    size integer NOT NULL,
    root text NOT NULL,
    subtrees bytea NOT NULL,
    last text NOT NULL
);
CREATE VIEW public.fleet_chains AS
 SELECT site,
    bay,
    chain,
    COALESCE(w.walked, 0) AS walked,
    COALESCE(t.told, 0) AS told
   FROM (( SELECT fleet_walked.site,
            fleet_walked.bay,
            fleet_walked.chain,
            max(fleet_walked.size) AS walked
           FROM public.fleet_walked
          GROUP BY fleet_walked.site, fleet_walked.bay, fleet_walked.chain) w
     FULL JOIN ( SELECT fleet_checkpoints.site,
            fleet_checkpoints.bay,
            fleet_checkpoints.chain,
            max(fleet_checkpoints.size) AS told
           FROM public.fleet_checkpoints
          GROUP BY fleet_checkpoints.site, fleet_checkpoints.bay, fleet_checkpoints.chain) t USING (site, bay, chain));
CREATE TABLE public.fleet_results (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    software text NOT NULL,
    document bytea NOT NULL,
    checks text[] NOT NULL,
    gauges text[] NOT NULL,
    outcomes text[] NOT NULL,
    limits_mm double precision[] NOT NULL,
    tirs_mm double precision[] NOT NULL,
    trues_mm double precision[] NOT NULL,
    us_mm double precision[] NOT NULL,
    ps_over double precision[] NOT NULL,
    decision text DEFAULT public.fleet_by_an_older_writer()
)
PARTITION BY RANGE (month);
ALTER TABLE ONLY public.fleet_results ALTER COLUMN document SET STORAGE EXTERNAL;
CREATE VIEW public.fleet_checks AS
 SELECT r.site,
    r.bay,
    r.inspection,
    r.revision,
    c.check_name,
    r.month,
    r.opened,
    r.closed,
    r.state,
    r.verdict,
    r.engine,
    r.damper,
    r.method_id,
    r.method_version,
    r.method_sha256,
    c.gauge,
    c.outcome,
    c.limit_mm,
    c.tir_mm,
    c.true_mm,
    c.u_mm,
    c.p_over,
    r.decision,
        CASE
            WHEN (EXISTS ( SELECT
               FROM public.fleet_breaks b
              WHERE (((b.site = r.site) AND (b.bay = r.bay) AND (b.inspection = r.inspection)) AND (b.what = ANY (ARRAY['altered-document'::text, 'record-twice'::text]))))) THEN NULL::text
            WHEN ((r.state = ANY (ARRAY['closed'::text, 'signed'::text])) OR ((r.state = 'abandoned'::text) AND (r.closed IS NOT NULL) AND (COALESCE(r.decision, r.verdict) = ANY (ARRAY['replace'::text, 'measure-again'::text])))) THEN COALESCE(r.decision, r.verdict)
            ELSE NULL::text
        END AS ended
   FROM (public.fleet_results r
     CROSS JOIN LATERAL UNNEST(r.checks, r.gauges, r.outcomes, r.limits_mm, r.tirs_mm, r.trues_mm, r.us_mm, r.ps_over) c(check_name, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over));
CREATE VIEW public.fleet_latest AS
 SELECT DISTINCT ON (r.site, r.bay, r.inspection) r.site,
    r.bay,
    r.inspection,
    r.revision,
    r.month,
    r.opened,
    r.closed,
    r.state,
    r.verdict,
    r.engine,
    r.damper,
    r.method_id,
    r.method_version,
    r.method_sha256,
    r.software,
    r.document,
    r.checks,
    r.gauges,
    r.outcomes,
    r.limits_mm,
    r.tirs_mm,
    r.trues_mm,
    r.us_mm,
    r.ps_over,
    r.decision,
        CASE
            WHEN ((EXISTS ( SELECT
               FROM public.fleet_breaks b
              WHERE (((b.site = r.site) AND (b.bay = r.bay) AND (b.inspection = r.inspection)) AND (b.what = ANY (ARRAY['altered-document'::text, 'record-twice'::text]))))) OR ((COALESCE(r.decision, r.verdict) = 'keep'::text) AND (EXISTS ( SELECT
               FROM public.fleet_chain l
              WHERE (((l.site = r.site) AND (l.bay = r.bay) AND (l.inspection = r.inspection)) AND (l.revision > r.revision)))))) THEN NULL::text
            WHEN ((r.state = ANY (ARRAY['closed'::text, 'signed'::text])) OR ((r.state = 'abandoned'::text) AND (r.closed IS NOT NULL) AND (COALESCE(r.decision, r.verdict) = ANY (ARRAY['replace'::text, 'measure-again'::text])))) THEN COALESCE(r.decision, r.verdict)
            ELSE NULL::text
        END AS ended
   FROM public.fleet_results r
  WHERE (EXISTS ( SELECT
           FROM public.fleet_chain c
          WHERE ((c.site = r.site) AND (c.bay = r.bay) AND (c.inspection = r.inspection) AND (c.revision = r.revision))))
  ORDER BY r.site, r.bay, r.inspection, r.revision DESC;
CREATE TABLE public.fleet_revisions (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    sha256 text NOT NULL,
    month date NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL
);
CREATE VIEW public.fleet_latest_checks AS
 SELECT r.site,
    r.bay,
    r.inspection,
    r.revision,
    r.check_name,
    r.month,
    r.opened,
    r.closed,
    r.state,
    r.verdict,
    r.engine,
    r.damper,
    r.method_id,
    r.method_version,
    r.method_sha256,
    r.gauge,
    r.outcome,
    r.limit_mm,
    r.tir_mm,
    r.true_mm,
    r.u_mm,
    r.p_over,
    r.decision,
        CASE
            WHEN ((r.ended = 'keep'::text) AND (EXISTS ( SELECT
               FROM public.fleet_chain l
              WHERE (((l.site = r.site) AND (l.bay = r.bay) AND (l.inspection = r.inspection)) AND (l.revision > r.revision))))) THEN NULL::text
            ELSE r.ended
        END AS ended
   FROM (public.fleet_checks r
     JOIN ( SELECT v.site,
            v.bay,
            v.inspection,
            max(v.revision) AS revision
           FROM (public.fleet_revisions v
             JOIN public.fleet_chain c USING (site, bay, inspection, revision))
          GROUP BY v.site, v.bay, v.inspection) latest USING (site, bay, inspection, revision));
CREATE TABLE public.fleet_refused (
    sha256 text NOT NULL,
    topic text NOT NULL,
    reason text NOT NULL,
    why text NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL,
    payload bytea NOT NULL
);
CREATE VIEW public.fleet_missing AS
 SELECT c.site,
    c.bay,
    c.chain,
    c.place,
    c.sha256,
    c.inspection,
    c.revision,
    c.document_sha256,
    c.later,
    c.after_chain,
    c.after_size,
    c.after_root,
    c."time",
    c.stored,
    c.record
   FROM public.fleet_chain c
  WHERE ((c.document_sha256 IS NOT NULL) AND (NOT (EXISTS ( SELECT
           FROM public.fleet_revisions r
          WHERE ((r.site = c.site) AND (r.bay = c.bay) AND (r.inspection = c.inspection) AND (r.revision = c.revision))))) AND (NOT (EXISTS ( SELECT
           FROM public.fleet_refused f
          WHERE ((f.sha256 = c.document_sha256) AND (f.topic = (((((('ringtrue/1/'::text || c.site) || '/'::text) || c.bay) || '/inspection/'::text) || c.inspection) || '/result'::text)))))));
CREATE TABLE public.fleet_refused_gone (
    reason text NOT NULL,
    number bigint NOT NULL,
    bytes bigint NOT NULL,
    latest timestamp with time zone NOT NULL
);
CREATE TABLE public.fleet_taken_up (
    sha256 text NOT NULL,
    topic text NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL
);
CREATE VIEW public.fleet_refused_still AS
 SELECT f.sha256,
    f.topic,
    f.reason,
    f.why,
    f.stored,
    f.payload
   FROM public.fleet_refused f
  WHERE (NOT (EXISTS ( SELECT
           FROM public.fleet_taken_up t
          WHERE ((t.sha256 = f.sha256) AND (t.topic = f.topic)))));
CREATE TABLE public.fleet_results_2026_11 (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    software text NOT NULL,
    document bytea NOT NULL,
    checks text[] NOT NULL,
    gauges text[] NOT NULL,
    outcomes text[] NOT NULL,
    limits_mm double precision[] NOT NULL,
    tirs_mm double precision[] NOT NULL,
    trues_mm double precision[] NOT NULL,
    us_mm double precision[] NOT NULL,
    ps_over double precision[] NOT NULL,
    decision text DEFAULT public.fleet_by_an_older_writer()
);
ALTER TABLE ONLY public.fleet_results_2026_11 ALTER COLUMN document SET STORAGE EXTERNAL;
CREATE TABLE public.fleet_results_2026_12 (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    software text NOT NULL,
    document bytea NOT NULL,
    checks text[] NOT NULL,
    gauges text[] NOT NULL,
    outcomes text[] NOT NULL,
    limits_mm double precision[] NOT NULL,
    tirs_mm double precision[] NOT NULL,
    trues_mm double precision[] NOT NULL,
    us_mm double precision[] NOT NULL,
    ps_over double precision[] NOT NULL,
    decision text DEFAULT public.fleet_by_an_older_writer()
);
ALTER TABLE ONLY public.fleet_results_2026_12 ALTER COLUMN document SET STORAGE EXTERNAL;
CREATE TABLE public.fleet_results_2027_01 (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    software text NOT NULL,
    document bytea NOT NULL,
    checks text[] NOT NULL,
    gauges text[] NOT NULL,
    outcomes text[] NOT NULL,
    limits_mm double precision[] NOT NULL,
    tirs_mm double precision[] NOT NULL,
    trues_mm double precision[] NOT NULL,
    us_mm double precision[] NOT NULL,
    ps_over double precision[] NOT NULL,
    decision text DEFAULT public.fleet_by_an_older_writer()
);
ALTER TABLE ONLY public.fleet_results_2027_01 ALTER COLUMN document SET STORAGE EXTERNAL;
CREATE VIEW public.fleet_unproven AS
 SELECT r.site,
    r.bay,
    r.inspection,
    r.revision,
    r.sha256,
    r.month,
    r.stored
   FROM public.fleet_revisions r
  WHERE (NOT (EXISTS ( SELECT
           FROM public.fleet_chain c
          WHERE ((c.site = r.site) AND (c.bay = r.bay) AND (c.inspection = r.inspection) AND (c.revision = r.revision)))));
CREATE TABLE public.ringtrue_fleet_version (
    version_num character varying(32) NOT NULL
);
ALTER TABLE ONLY public.fleet_results ATTACH PARTITION public.fleet_results_2026_11 FOR VALUES FROM ('2026-11-01') TO ('2026-12-01');
ALTER TABLE ONLY public.fleet_results ATTACH PARTITION public.fleet_results_2026_12 FOR VALUES FROM ('2026-12-01') TO ('2027-01-01');
ALTER TABLE ONLY public.fleet_results ATTACH PARTITION public.fleet_results_2027_01 FOR VALUES FROM ('2027-01-01') TO ('2027-02-01');
INSERT INTO public.fleet_bay_keys (site, bay, key, how, stored) VALUES ('greywacke', 'bay-2', '8f4ff8428ef835ac5b23509786f557cff96d4b149f55190a2758952ec0691fa7', 'first', '2026-11-27 12:03:43.040106+00');
INSERT INTO public.fleet_bay_keys (site, bay, key, how, stored) VALUES ('greywacke', 'bay-3', 'cff6b8d9b97651d29bac209cd24f6d1ac5966df2f09f2f2eeaadfce52aa8d07e', 'first', '2026-11-27 12:03:43.078108+00');
INSERT INTO public.fleet_breaks (site, bay, chain, place, what, why, inspection, revision, stored) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 1, 'record-twice', 'another record is in this place: the chain has forked', 'truck-18', 1, '2026-11-27 12:03:43.102968+00');
INSERT INTO public.fleet_breaks (site, bay, chain, place, what, why, inspection, revision, stored) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 1, 'checkpoint', 'a checkpoint of 2 records does not hold: one of them is another than it was then', NULL, NULL, '2026-11-27 12:03:43.102968+00');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 0, '16082200dec6189698c2f6bbb5a72d3fc274f82c912e35daf5ee29d676f13813', NULL, NULL, NULL, NULL, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-27 12:03:43.040106+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c22696e646578223a302c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c226b696e64223a22626567756e222c2270726576696f7573223a22222c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223533633261636663623730363936346561363165363130303863383664333935316231323162636634656463323665616165653833636632386365396432373334343661353030353139373532616562333831613265313532666334303338663735386362396337343732643834643162306638343737383837643438663066222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a222c22776879223a226669727374227d');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 1, '5670c34487d6eaf1284fac92b2e809ccfcdfcfba0aa774d5d70985fde09ac320', 'truck-14', 1, 'b83ecb0040ad8d08e13dccee7f2e064c4d4e4fdbb91f5556428f019bfa4d79d3', false, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-27 12:03:43.040106+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c22646f63756d656e745f736861323536223a2262383365636230303430616438643038653133646363656537663265303634633464346534666462623931663535353634323866303139626661346437396433222c22696e646578223a312c22696e7370656374696f6e223a22747275636b2d3134222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c226b696e64223a22726573756c74222c226c61746572223a66616c73652c2270726576696f7573223a2231363038323230306465633631383936393863326636626262356137326433666332373466383263393132653335646166356565323964363736663133383133222c227265766973696f6e223a312c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223438343737623633616262316630633161653230646335393435633435633339323163636231353631356631333565303131393239343462636435376465323937356361313066666438313066653231333530316161343537356537363534323832393465616332636166326333626338326638623966666638646638613030222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 2, '0e03a1f758f04577f2d810ca27763b06ffef9bea6d3701518066053d2c3c931a', 'truck-14', 2, '65227f0852320913889594a27da5addfed7db8f3410beb106b132a89b013bd7f', false, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-27 12:03:43.040106+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c22646f63756d656e745f736861323536223a2236353232376630383532333230393133383839353934613237646135616464666564376462386633343130626562313036623133326138396230313362643766222c22696e646578223a322c22696e7370656374696f6e223a22747275636b2d3134222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c226b696e64223a22726573756c74222c226c61746572223a66616c73652c2270726576696f7573223a2235363730633334343837643665616631323834666163393262326538303963636663646663666261306161373734643564373039383566646530396163333230222c227265766973696f6e223a322c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223666316464643934306434633065303431343461323136663732663937653638316261373936333565353730643035333335303632336265666639393265613231366565633665396530636139363364653762373638306266333039323766376165393938316235383735643638616163393138336231373963626631393063222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 3, '52ad1a833e6d441b675c8795784e7aceb75e83720f19b425a8cf096b598fd5ba', 'truck-15', 1, 'fc5b135748493b36b0cdec884ac1e45f84ed0d893c587d0c6409c3a9c591205c', false, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-27 12:03:43.040106+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c22646f63756d656e745f736861323536223a2266633562313335373438343933623336623063646563383834616331653435663834656430643839336335383764306336343039633361396335393132303563222c22696e646578223a332c22696e7370656374696f6e223a22747275636b2d3135222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c226b696e64223a22726573756c74222c226c61746572223a66616c73652c2270726576696f7573223a2230653033613166373538663034353737663264383130636132373736336230366666656639626561366433373031353138303636303533643263336339333161222c227265766973696f6e223a312c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223739613832646366336238386332356134646330383334383632373162613161663766386530623165386464656237663637636433376564316537336264393462386332663963306638396233623733383438643630393739396432376233326630636238323466383938653434363937373334396131646335623737623034222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-3', '375c99ac0e49fbb3', 0, 'aa82477bba5b17cd163f9185d8395137d9c97d8988865077c2732c7c21dacdc2', NULL, NULL, NULL, NULL, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-27 12:03:43.078108+00', '\x7b22626179223a226261792d33222c22636861696e223a2233373563393961633065343966626233222c22696e646578223a302c226b6579223a2263666636623864396239373635316432396261633230396364323466366431616335393636646632663039663266326565616164666365353261613864303765222c226b696e64223a22626567756e222c2270726576696f7573223a22222c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223834386163613631343031306132353766653537653866633435613562313730356566623730653731393761646138323134366538336463323337666263346237376563343765633264663461336333353633643962663639326264336565633931333237656265343065383065306437623434396133653035366364343065222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a222c22776879223a226669727374227d');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-3', '375c99ac0e49fbb3', 1, '96086c3ed91bc026190f6b3e8df6a8a6ce9d47938c3f15e06df75e8fc5d3b35e', 'truck-17', 1, '75a8353696d9cb5d278ded20daa827b6fd7902f6775924418b40518cbd136152', false, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-27 12:03:43.078108+00', '\x7b22626179223a226261792d33222c22636861696e223a2233373563393961633065343966626233222c22646f63756d656e745f736861323536223a2237356138333533363936643963623564323738646564323064616138323762366664373930326636373735393234343138623430353138636264313336313532222c22696e646578223a312c22696e7370656374696f6e223a22747275636b2d3137222c226b6579223a2263666636623864396239373635316432396261633230396364323466366431616335393636646632663039663266326565616164666365353261613864303765222c226b696e64223a22726573756c74222c226c61746572223a66616c73652c2270726576696f7573223a2261613832343737626261356231376364313633663931383564383339353133376439633937643839383838363530373763323733326337633231646163646332222c227265766973696f6e223a312c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223135373130346633633939613838356637653461303464626265353734376164393132373231333537616662653664616339373338323135626365326430356261623266356364666531326466396139353862643866373966626366353166356238613161353239303635363031306636316665626463653161616262383035222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_checkpoints (site, bay, chain, size, root, stored, message) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 4, 'ba1f3950a8f896c3a3b1a4e736fea77bda4411a4b79836f1ff960993cf9cd514', '2026-11-27 12:03:43.040106+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c22726f6f74223a2262613166333935306138663839366333613362316134653733366665613737626461343431316134623739383336663166663936303939336366396364353134222c22736368656d61223a2272696e67747275652f636865636b706f696e742f31222c227369676e6174757265223a226336333637303736373735393163613830623162633531623937346238373564666365656563386534613237306661643835353265303365323136653937663336343034646533333262303136623037306333396639636539363034653333333062626136326362333362333132336432656162393537326261643534393063222c2273697465223a22677265797761636b65222c2273697a65223a342c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_checkpoints (site, bay, chain, size, root, stored, message) VALUES ('greywacke', 'bay-3', '375c99ac0e49fbb3', 2, '525b79d77ab8912123e90d11d4307b3cc412216316334e08cce8e09e559848bd', '2026-11-27 12:03:43.078108+00', '\x7b22626179223a226261792d33222c22636861696e223a2233373563393961633065343966626233222c226b6579223a2263666636623864396239373635316432396261633230396364323466366431616335393636646632663039663266326565616164666365353261613864303765222c22726f6f74223a2235323562373964373761623839313231323365393064313164343330376233636334313232313633313633333465303863636538653039653535393834386264222c22736368656d61223a2272696e67747275652f636865636b706f696e742f31222c227369676e6174757265223a223732363130326137376332366565346636326537323264356564336462323435393031336438353766383634366532323138386431386565323036376237346166316432393535613066383937663166626266333162306465316638303632663835616332373333333435313138363964363939626637646535356164363030222c2273697465223a22677265797761636b65222c2273697a65223a322c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_checkpoints (site, bay, chain, size, root, stored, message) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 2, '2b5c17933201e7e104fc45d58e0abf12b85c4594156f02a453c2f9aea4a4dec4', '2026-11-27 12:03:43.102968+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c22726f6f74223a2232623563313739333332303165376531303466633435643538653061626631326238356334353934313536663032613435336332663961656134613464656334222c22736368656d61223a2272696e67747275652f636865636b706f696e742f31222c227369676e6174757265223a226239316334323563353862663337383563356134643061613065653132386636613337633462376436303066623133363935363932663465323936316139336533373735626561653333646262333139643261643961636139313237323364623664373031356266653861616237336361373838383438336664383664663065222c2273697465223a22677265797761636b65222c2273697a65223a322c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('c975d3522e2bfb1b70fb901ac6bef0af0ee8a1f80c2a1009543de2863e008cb8', 'ringtrue/1/greywacke/bay-2/chain', 'forked', 'another record is in this place: the chain has forked (5670c34487d6eaf1… is kept)', '2026-11-27 12:03:43.102968+00', '\x785e1d90cb6edc300c45ff856b4f23512425f93bbaeaa6902872c648e2047eb40d8afe7be1d9100417f71cdebfd0db17ccd7bc214ca08fb6ac3043b6cc99ccb36af7100b4c303ef47cb7f5f8b93f1ab2c00ca25e288d1ab4141b64d2d525b9d990a2aaa45c9aa23086d4bda7168d8ab3b827d210496182651df607e6786dfba7e9b17c5cf8633bf5f5f6c4bedae5579cdc0b61312f899b72c7c4a1e622ce9cd5bdcaa01ea93a73aca161e652194d83d4e82d5f41cb3a6086cdf6f3ed8009deda611bccdede769be073b35fcbc7b9c30c5142410c61984a2c556a5174e9bd73cb38922b66f2825a235ae2d19ccdb00ec9e231959860822b6c7fbe1227d8f561efed422febfdd84e7b79b6fc1261827db9afed3837bbeac43698058929d4c4a28699636f831a0f73374172672c390f2a567aecc6a149b0a4ca924831c828995aea9262b44196a8c7d82567520f29691c9429b8a731720d4d47ef916b471e819e3ac76572dfeceb77d35783098ee5fd3a6140b9c57843f91e78c63053fc1642f801fffe032d0aa64c');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('3845562e994acdf8857cc0c08725c2e92f39301ecb70a3d51d1ac62759d09fb4', 'ringtrue/1/greywacke/bay-2/inspection/truck-19/result', 'newer', 'ringtrue/result/2, and this writer knows ringtrue/result/1: ringtrue is newer there', '2026-11-27 12:03:43.120776+00', '\x785ed5566d8bdc3610fe2bc340a001ad237b5f6e57f9da50faa5b4215068388c4e9ab5d5b52523c97b771cfba3fa17facbca787d9bbb240d345048bef865349ad1cc3ccf681e3099967a8d0aa3f34d8e23bd8a94c62ebfaa50a0f36920935df0a830c7d11c16e50e05463aba34494b8129eb4ca830b9c6934581c94dff4da4fb5b6d0e84026ff43d2a7e2ed86c3261608de017e41be75963fe500f98283adda1c29f7e5bbc595495bc4281d6a5acbda1fad0a32ab7ab4aca420a6cc31853dda22acbed952ce449a0d5fd40113f32f4e3426ecb350a34c1278e640e2a86ae238b2781b7211eea102def65d7bf2f96cb5d8902c3401c97c24a569b45592eaacd3bb952ebad2a3745592dff60ab5d489fe8ac55b952b22ad652b2ce9c9f8f752aa95665219fead4379cadb705bcb9d3fdd0717a7aca6db01c956337745938523c5702f9aca9d5d57a830ab7cbf57627d7f26bdf9c11d3923924f6797469e4923c6018b3093d17af09818b1d49a7c9bdee3a5882cbd42748441eb4b7302b4d5254ef1f90bf506147fac0c725f21f4c65bacba8f09700c975ce044fb0ef4667217808116ea80bb7905b027b2ef1495cec59f2397dc1e0b4ce4672081df43a1e12383f19333a39dfe0136383763eff9bb15f79113cb9dc52849bcea54c912cf810c1ba644217c638d1c0878906764cf91e4fd72781d1f5cf7378eb72ebfcd32c3203e1ddcf6f4116e576037d0f7fff05b29072cbdf3fecd6f0e225b804e79d53009deb5d86b0075954672dd33255587443ce37108e14d59c3f5994f0e235c4b12305cda8a3250bda181a267e4d558bf4e799f502d821a431d26be8423840093a1d12ec4384dd15bc78890227ff75dfa3e20308cc2ece7fe54e70d7a0fa8968bb1138d67437686fc9ce5229b7cccc2345dd100b766b8143cd02fe935296025b1dfbe09d49139066a6960299092e8f961e8ded040ead4e545b6a90c9557171e70dd56736c8d5b31d6555c8d3b54032867c8eceb87cffc476eb9ab64e43c81feccf87277b162d37eba29c8a6a9d6f12aa6d59096cf4c8c1cd0c76de3aa373888b72aa7f0addc8297f74c411f7c325263ea2d19dbb897ad2b22363ab92d5d5426e16b2c4d349e05e9bc9c107929e61323998699a9f00ac2ae13b0758b5129f20ac2aff77846d9ee1a5fa6f8099d4bf05c43055bb5cf7515b54b25809a43bd38d962fb2f748dec2be0b3a436e75863e1ce9dc76a6a663a2f60705dca32f4806a3bd0f1986188e042ee33583f248d13ac38dfd40345ca0c82c9eef15055fba3ba2eb15708d1f51fb9db44526e3f3837f1774bb16e8e92ed7538379783e772d3f3377adb63c77f1d8952f1d699a91788248619f6f75e485c7f1922fb6429e613075c7fa32b358bd5faff7d5e66bdf78fa07af7559a5');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('2561969ef0e66eb91c7d516472ff6d845c8ddb166150dee8bb6bf2e94385b859', 'ringtrue/1/greywacke/bay-2/chain', 'malformed', 'no JSON object with a schema; ringtrue/chain/1 is expected under this topic', '2026-11-27 12:03:43.120776+00', '\x785ecbcb57284a4dce2f4a01001105037d');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('a53dd6c05c06359355ee3edfb265363d5fddcad752c3a14b1b62188248561b6c', 'ringtrue/1/greywacke/bay-3/chain', 'other-key', 'it is signed by 1db6b9e65febcc73396356d0d823871388452c544814eb74e0e209a957c4c9e6, and its bay''s is cff6b8d9b97651d2…', '2026-11-27 12:03:43.130235+00', '\x785e1d904daedb300c84efc2b5d35094484a3e4757dde9877284206ee1d87d7d287af7426f33c0cc80e087f90b257fc23af5e66181fac8639fbe51edb15029ae8994060b8cbdd91f587181a7cd13d78a9464c2dd4aadea7d12cfd2b045f2519d8f3130550e21ba604583a111a69c586ba8c90416788ebdcd67b65d3b2cf0ebb0dfe3e7f586156081777dd82bc30ac7d8b7f3b8ecfe057777b31bdb9ecfeb3058812897c0aa225a8a6771c9737024ec926a09d823c5182d19922609d993af46e445034bf64d7369cc845455b0e42655506264ce483174d544d25963af4d7d47f6d655a9c6568b55c1f085734e92edb0cf8f5c9f060b9ce3352342929b733792efc82be11adc3744fc010b7c3ce68a7d1cef13fefd07e1956d2e');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('553400ec91f90ff27287756799c6549ad288e9612004308464cd4e20070961a5', 'ringtrue/1/greywacke/bay-3/chain', 'other-key', 'it is signed by 1db6b9e65febcc73396356d0d823871388452c544814eb74e0e209a957c4c9e6, and its bay''s is cff6b8d9b97651d2…', '2026-11-27 12:03:43.130235+00', '\x785e1d90cd6e1d310846df85f5dcc61883ed798eaebaa96cc0f78e924ca2f9491b557df768b241c08273f8fe416f9f305ff54630813edab25eb3451da5c7ded144bac104f6a6e7abafc7effdd1220bcc1094a95aa92921a618aa998de6ce218f34b4875e959a3a724d5447a6e6c1288681221c7a6f30c1b29aff8519af6e7f773d96b70b7f6ca73edf6280099efdf243ebd2ab0b0fefaa99a80ab158b012a964a4521247e5940a26ef3979f0186aab9c356975b90e2dabc10c9befe7cb0113bcb4c33798477bd97d82f7cd3f96b77387191a939968600d425c89d99ddc468fc224643cccb459e6a8d43075ec12b194980a0b76519860f38f65ff7e0527d8f5e1afed422febfdd84e7ffa4ef90961827db9afed38378719dc88b3c43152d3deaca379883975ebe2d1a8953ad0b2e59a2ca0175662cccca5d552b059484c8a9ec9d9aa46721e26984cb23357120a39576e8d0b3516778dd550b08f9c4689215c19edcb7199dc37fffcd3f4d961826379bd563144b921dea2fc0c3cc73027fc1142f805ffbf001c39a61e');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('0ef9c2ac5357bfa5b8744aaed991d062a6a4e56de53f898e74ac9927fa67c908', 'ringtrue/1/greywacke/bay-3/checkpoint', 'other-key', 'it is signed by 1db6b9e65febcc73396356d0d823871388452c544814eb74e0e209a957c4c9e6, and its bay''s is cff6b8d9b97651d2…', '2026-11-27 12:03:43.130235+00', '\x785e258f49ae13510c45f7e27185b8796dad8311b3e7e625a528092aea0b7d107b4705932b5dfb483efe0d3a3e613df322b080ddc7f63abbb3cda6ac4a5e8a3a2cf0881324d7a23d4a9ea16655a417c9c5d11b4bab24ada5cc96536a94426b0a0cc63e7aae96ac478105f6f7fb80157a5884614b4c9578907462c5d11c1593067b9d75924b6db594d11bd979244c1326671fb0c00fbbc773c00afbf6ba1dfb475ced1ef6f8fede5ec7954e60bbbdc6f1b107ac50663419c9505212d11953240715128a36276967aba13d4fc3d1ba6b9522e767426954acb9b169361e359a8b7b45628e26eeee831a27c544347916469a3d0b350ca329948a08c63f9de334b9edf1f973d8e3ffe857c0ca0b1cdbf3dc3172b9105db87cc5bc32ae89be20e237f8f317e4c67765');
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document, checks, gauges, outcomes, limits_mm, tirs_mm, trues_mm, us_mm, ps_over, decision) VALUES ('greywacke', 'bay-2', 'truck-14', 1, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x785ed5566d8bdc3610fe2bc340a001ad237b5f6e57f9da50faa5b4215068388c4e9ab5d5b52523c97b771cfba3fa17facbca787d9bbb240d345048bef865349ad1cc3ccf681e3099967a8d0aa3f34d8e23bd8a94c62ebf2a51a0f36920935df0a830c7d11c16e50a05463aba34494b8129eb4ca830b9c6934581c94dff4da4fb5b6d0e84026ff43d2a7e2e2a563061608de017e41be75963fe500f98283adda1c29f7e5bbc595495bc4281d6a5acbda1fad0a32ab7ab4aca420a6cc31853dda22acbed952ce449a0d5fd40113f32f4e3426ecb350a34c1278e640e2a86ae238b2781b7211eea102def65d7bf2f96cb1d27210cc47129ac64b55994e5a2dabc932bb5deaa725394d5f20fb6da85f489ce5a952b25ab622d25ebccf9f958a7926a5516f2a94e7dc3d97a5bc09b3bdd0f1da7a7a7dc06cb51397643978523c5732590cf9a5a5dad37a870bb5c6f77722dbff6cd19312d9943629f4797462ec90386319bd073f19a10b8d891749adcebae8325b84c7d8244e4417b0bb3d22445f5fe01f90b1576a40f7c5c22ffc154a6bb8c0a7f09905ce74cf004fb6e7416828710e186ba700bb925b0e7129fc4c59e259fd3170c4eeb6c2487d041afe32181f39331a393f30d3e313668e7f3bf19fb9517c193cb2d45b8e95cca14c9820f11ac4b2674618c130d7c986860c794eff1747d12185dff3c87b72eb7ce3fcd223310defdfc1664516e37d0f7f0f75f200b29b7fcfdc36e0d2f5e824b70de3905d0b9de65087b904575d6322d53854537e47c03e14851cdf99345092f5e431c3b52d08c3a5ab2a08da161e2d754b5487f9e592f801d421a23bd862e840394a0d321c13e44d85dc18b972870f25ff73d2a3e80c0ece2fc57ee04770daa9f88b61b81634d7783f696ec2c9572cbcc3c52d40db160b71638d42ce03f296529b0d5b10fde99340169666a299099e0f268e9d1d84ee0d0ea44b5a506995c151777de507d66835c3ddb5156853c5d0b2463c8e7e88ccbf74f6cb7ae69eb3484fcc1fe7c78b267d172b32ecaa9a8d6f926a1da9695c0468f1cdccc60e7ad333a87b828a7faa7d08d9cf247471c713f5c62e2231addb99ba8272d3b32b62a595d2de466214b3c9d04eeb5991c7c20e91926938399a6f909c0aa12be7380552bf109c2aaf27f47d8e6195eaaff069849fd5b400c53b5cb751fb545258b9540ba33dd68f9227b8fe42decbba033e45667e8c391ce6d676a3a266a7f50c03dfa826430dafb906188e148e0325e33288f14ad33dcd80f44c3058acce2f95e51f0a5bb23ba5e01d7f811b5df495b64323e3ff87741b76b819eee723d359887e773d7f23373d76acb73178f5df9d291a61989278814f6f956475e781c2ff9622be419065377ac2f338bd5fbf57a5f6dbef68da77f006fb5599f', '{visual,rim,face}', '{NULL,indicator-1,indicator-1}', '{good,within,within}', '{NULL,0.28,0.28}', '{NULL,0.19,0.124}', '{NULL,0.186,0.121}', '{NULL,0.008,0.008}', '{NULL,0.0001,0.0001}', NULL);
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document, checks, gauges, outcomes, limits_mm, tirs_mm, trues_mm, us_mm, ps_over, decision) VALUES ('greywacke', 'bay-2', 'truck-14', 2, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x785ed5566d8bdc3610fe2bc340a001ad237b5f6e57f9da50faa5b4215068388c4e9ab5d5b52523c97b771cfba3fa17facbca787d9bbb240d345048bef865349ad1cc3ccf681e3099967a8d0aa3f34d8e23bd8a94c62ebf2a51a0f36920935df0a830c7d11c16e50a05463aba34492b8129eb4ca830b9c6934581c94dff4da4fb5b6d0e84026ff43d2a7e2e2a563061608de017e41be75963fe500f98283adda1c29f7e5bbc595495bc4281d6a5acbda1fad0a32ab7ab4aca420a6cc31853dda22acbed952ce449a0d5fd40113f32f4e3426ecb350a34c1278e640e2a86ae238b2781b7211eea102def65d7bf2f96cb1d27210cc47129ac64b55994e5a2dabc932bb5deaa725394d5f20fb6da85f489ce5a952b25ab622d25ebccf9f958a7926a5516f2a94e7dc3d97a5bc09b3bdd0f1da7a7a7dc06cb51397643978523c5732590cf9a5a5dad37a870bb5c6f77722dbff6cd19312d9943629f4797462ec90386319bd073f19a10b8d891749adcebae8325b84c7d8244e4417b0bb3d22445f5fe01f90b1576a40f7c5c22ffc154a6bb8c0a7f09905ce74cf004fb6e7416828710e186ba700bb925b0e7129fc4c59e259fd3170c4eeb6c2487d041afe32181f39331a393f30d3e313668e7f3bf19fb9517c193cb2d45b8e95cca14c9820f11ac4b2674618c130d7c986860c794eff1747d12185dff3c87b72eb7ce3fcd223310defdfc1664516e37d0f7f0f75f200b29b7fcfdc36e0d2f5e824b70de3905d0b9de65087b904575d6322d53854537e47c03e14851cdf99345092f5e431c3b52d08c3a5ab2a08da161e2d754b5487f9e592f801d421a23bd862e840394a0d321c13e44d85dc18b972870f25ff73d2a3e80c0ece2fc57ee04770daa9f88b61b81634d7783f696ec2c9572cbcc3c52d40db160b71638d42ce03f296529b0d5b10fde99340169666a299099e0f268e9d1d84ee0d0ea44b5a506995c151777de507d66835c3ddb5156853c5d0b2463c8e7e88ccbf74f6cb7ae69eb3484fcc1fe7c78b267d172b32ecaa9a8d6f926a1da9695c0468f1cdccc60e7ad333a87b828a7faa7d08d9cf247471c713f5c62e2231addb99ba8272d3b32b62a595d2de466214b3c9d04eeb5991c7c20e91926938399a6f909c0aa12be7380552bf109c2aaf27f47d8e6195eaaff069849fd5b400c53b5cb751fb545258b9540ba33dd68f9227b8fe42decbba033e45667e8c391ce6d676a3a266a7f50c03dfa826430dafb906188e148e0325e33288f14ad33dcd80f44c3058acce2f95e51f0a5bb23ba5e01d7f811b5df495b64323e3ff87741b76b819eee723d359887e773d7f23373d76acb73178f5df9d291a61989278814f6f956475e781c2ff9622be419065377ac2f338bd5fbf57a5f6dbef6cd6322997930c54843c7fd903df185cf73460ce1c8d3de3f87aa671e', '{visual,rim,face}', '{NULL,indicator-1,indicator-1}', '{good,within,within}', '{NULL,0.28,0.28}', '{NULL,0.19,0.124}', '{NULL,0.186,0.121}', '{NULL,0.008,0.008}', '{NULL,0.0001,0.0001}', 'replace');
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document, checks, gauges, outcomes, limits_mm, tirs_mm, trues_mm, us_mm, ps_over, decision) VALUES ('greywacke', 'bay-2', 'truck-15', 1, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x785ed5566d8bdc3610fe2bc340a001ad237b5f6e57f9da50faa5b4215068388c4e9ab5d5b52523c97b771cfba3fa17facbca787d9bbb240d345048bef865349ad1cc3ccf681e3099967a8d0aa3f34d8e23bd8a94c62ebf2a51a0f36920935df0a830c7d11c16e51a05463aba34494b8129eb4ca830b9c6934581c94dff4da4fb5b6d0e84026ff43d2a7e2e2a563061608de017e41be75963fe500f98283adda1c29f7e5bbc595495bc4281d6a5acbda1fad0a32ab7ab4aca420a6cc31853dda22acbed952ce449a0d5fd40113f32f4e3426ea7a39be0134732071543d791c593c0db100f758896f7b2ebdf17cbe58e931006e2b81456b2da2cca72516ddec9955a6f55b929ca6af9075bed42fa4467adca959255b1969275e6fc7cac5349b52a0bf954a7bee16cbd2de0cd9dee878ed3d3536e83e5a81cbba1cbc291e2b912c8674dadaed61b54b85daeb73bb9965ffbe68c9896cc21b1cfa34b2397e401c3984de8b9784d085cec483a4dee75d7c1125ca63e4122f2a0bd85596992a27aff80fc850a3bd2073e2e91ff602ad35d4685bf0448ae732678827d373a0bc1438870435db885dc12d873894fe262cf92cfe90b06a775369243e8a0d7f190c0f9c998d1c9f9069f181bb4f3f9df8cfdca8be0c9e59622dc742e658a64c18708d62513ba30c689063e4c34b063caf778ba3e098cae7f9ec35b975be79f66911908ef7e7e0bb228b71be87bf8fb2f9085945bfefe61b786172fc12538ef9c02e85cef32843dc8a23a6b9996a9c2a21b72be8170a4a8e6fcc9a28417af218e1d2968461d2d59d0c6d030f16baa5aa43fcfac17c00e218d915e4317c2014ad0e990601f22ecaee0c54b1438f9affb1e151f40607671fe2b7782bb06d54f44db8dc0b1a6bb417b4b76964ab965661e29ea8658b05b0b1c6a16f09f94b214d8ead807ef4c9a803433b514c84c7079b4f4686c27706875a2da52834cae8a8b3b6fa83eb341ae9eed28ab429eae059231e47374c6e5fb27b65bd7b4751a42fe607f3e3cd9b368b95917e55454eb7c93506dcb4a60a3470e6e66b0f3d6199d435c9453fd53e8464ef9a3238eb81f2e31f1118deedc4dd493961d195b95acae1672b390259e4e02f7da4c0e3e90f40c93c9c14cd3fc04605509df39c0aa95f8046155f9bf236cf30c2fd57f03cca4fe2d2086a9dae5ba8fdaa292c54a20dd996eb47c91bd47f216f65dd01972ab33f4e148e7b633351d13b53f28e01e7d413218ed7dc830c470247019af1994478ad6196eec07a2e1024566f17caf28f8d2dd115daf806bfc88daefa42d32199f1ffcbba0dbb5404f77b99e1accc3f3b96bf999b96bb5e5b98bc7ae7ce948d38cc413440afb7cab232f3c8e977cb115f20c83a93bd69799c5eafd7abdaf365ffbc6d33f7a5159a0', '{visual,rim,face}', '{NULL,indicator-1,indicator-1}', '{good,within,within}', '{NULL,0.28,0.28}', '{NULL,0.19,0.124}', '{NULL,0.186,0.121}', '{NULL,0.008,0.008}', '{NULL,0.0001,0.0001}', NULL);
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document, checks, gauges, outcomes, limits_mm, tirs_mm, trues_mm, us_mm, ps_over, decision) VALUES ('greywacke', 'bay-2', 'truck-16', 1, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x785ed5566d8bdc3610fe2bc340a001ad237b5f6e57f9da50faa5b4215068388c4e9ab5d5b52523c97b771cfba3fa17facbca787d9bbb240d345048bef865349ad1cc3ccf681e3099967a8d0aa3f34d8e23bd8a94c62ebf2a51a0f36920935df0a830c7d11c16e50605463aba34494b8129eb4ca830b9c6934581c94dff4da4fb5b6d0e84026ff43d2a7e2e2a563061608de017e41be75963fe500f98283adda1c29f7e5bbc595495bc4281d6a5acbda1fad0a32ab7ab4aca420a6cc31853dda22acbed952ce449a0d5fd40113f32f4e3426ecb350a34c1278e640e2a86ae238b2781b7211eea102def65d7bf2f96cb1d27210cc47129ac64b55994e5a2dabc932bb5deaa725394d5f20fb6da85f489ce5a952b25ab622d25ebccf9f958a7926a5516f2a94e7dc3d97a5bc09b3bdd0f1da7a7a7dc06cb51397643978523c5732590cf9a5a5dad37a870bb5c6f77722dbff6cd19312d9943629f4797462ec90386319bd073f19a10b8d891749adcebae8325b84c7d8244e4417b0bb3d22445f5fe01f90b1576a40f7c5c22ffc154a6bb8c0a7f09905ce74cf004fb6e7416828710e186ba700bb925b0e7129fc4c59e259fd3170c4eeb6c2487d041afe32181f39331a393f30d3e313668e7f3bf19fb9517c193cb2d45b8e95cca14c9820f11ac4b2674618c130d7c986860c794eff1747d12185dff3c87b72eb7ce3fcd223310defdfc1664516e37d0f7f0f75f200b29b7fcfdc36e0d2f5e824b70de3905d0b9de65087b904575d6322d53854537e47c03e14851cdf99345092f5e431c3b52d08c3a5ab2a08da161e2d754b5487f9e592f801d421a23bd862e840394a0d321c13e44d85dc18b972870f25ff73d2a3e80c0ece2fc57ee04770daa9f88b61b81634d7783f696ec2c9572cbcc3c52d40db160b71638d42ce03f296529b0d5b10fde99340169666a299099e0f268e9d1d84ee0d0ea44b5a506995c151777de507d66835c3ddb5156853c5d0b2463c8e7e88ccbf74f6cb7ae69eb3484fcc1fe7c78b267d172b32ecaa9a8d6f926a1da9695c0468f1cdccc60e7ad333a87b828a7faa7d08d9cf247471c713f5c62e2231addb99ba8272d3b32b62a595d2de466214b3c9d04eeb5991c7c20e91926938399a6f909c0aa12be7380552bf109c2aaf27f47d8e6195eaaff069849fd5b400c53b5cb751fb545258b9540ba33dd68f9227b8fe42decbba033e45667e8c391ce6d676a3a266a7f50c03dfa826430dafb906188e148e0325e33288f14ad33dcd80f44c3058acce2f95e51f0a5bb23ba5e01d7f811b5df495b64323e3ff87741b76b819eee723d359887e773d7f23373d76acb73178f5df9d291a61989278814f6f956475e781c2ff9622be419065377ac2f338bd5fbf57a5f6dbef68da77f0084ed59a1', '{visual,rim,face}', '{NULL,indicator-1,indicator-1}', '{good,within,within}', '{NULL,0.28,0.28}', '{NULL,0.19,0.124}', '{NULL,0.186,0.121}', '{NULL,0.008,0.008}', '{NULL,0.0001,0.0001}', NULL);
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document, checks, gauges, outcomes, limits_mm, tirs_mm, trues_mm, us_mm, ps_over, decision) VALUES ('greywacke', 'bay-2', 'truck-18', 1, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x785ed5566d8bdc3610fe2bc340a001ad237b5f6e57f9da50faa5b4215068388c4e9ab5d5b52523c97b771cfba3fa17facbca787d9bbb240d345048bef865349ad1cc3ccf681e3099967a8d0aa3f34d8e23bd8a94c62ebf2a51a0f36920935df0a830c7d11c16e51605463aba34494b8129eb4ca830b9c6934581c94dff4da4fb5b6d0e84026ff43d2a7e2e2a563061608de017e41be75963fe500f98283adda1c29f7e5bbc595495bc4281d6a5acbda1fad0a32ab7ab4aca420a6cc31853dda22acbed952ce449a0d5fd40113f32f4e3426ecb350a34c1278e640e2a86ae238b2781b7211eea102def65d7bf2f96cb1d27210cc47129ac64b55994e5a2dabc932bb5deaa725394d5f20fb6da85f489ce5a952b25ab622d25ebccf9f958a7926a5516f2a94e7dc3d97a5bc09b3bdd0f1da7a7a7dc06cb51397643978523c5732590cf9a5a5dad37a870bb5c6f77722dbff6cd19312d9943629f4797462ec90386319bd073f19a10b8d891749adcebae8325b84c7d8244e4417b0bb3d22445f5fe01f90b1576a40f7c5c22ffc154a6bb8c0a7f09905ce74cf004fb6e7416828710e186ba700bb925b0e7129fc4c59e259fd3170c4eeb6c2487d041afe32181f39331a393f30d3e313668e7f3bf19fb9517c193cb2d45b8e95cca14c9820f11ac4b2674618c130d7c986860c794eff1747d12185dff3c87b72eb7ce3fcd223310defdfc1664516e37d0f7f0f75f200b29b7fcfdc36e0d2f5e824b70de3905d0b9de65087b904575d6322d53854537e47c03e14851cdf99345092f5e431c3b52d08c3a5ab2a08da161e2d754b5487f9e592f801d421a23bd862e840394a0d321c13e44d85dc18b972870f25ff73d2a3e80c0ece2fc57ee04770daa9f88b61b81634d7783f696ec2c9572cbcc3c52d40db160b71638d42ce03f296529b0d5b10fde99340169666a299099e0f268e9d1d84ee0d0ea44b5a506995c151777de507d66835c3ddb5156853c5d0b2463c8e7e88ccbf74f6cb7ae69eb3484fcc1fe7c78b267d172b32ecaa9a8d6f926a1da9695c0468f1cdccc60e7ad333a87b828a7faa7d08d9cf247471c713f5c62e2231addb99ba8272d3b32b62a595d2de466214b3c9d04eeb5991c7c20e91926938399a6f909c0aa12be7380552bf109c2aaf27f47d8e6195eaaff069849fd5b400c53b5cb751fb545258b9540ba33dd68f9227b8fe42decbba033e45667e8c391ce6d676a3a266a7f50c03dfa826430dafb906188e148e0325e33288f14ad33dcd80f44c3058acce2f95e51f0a5bb23ba5e01d7f811b5df495b64323e3ff87741b76b819eee723d359887e773d7f23373d76acb73178f5df9d291a61989278814f6f956475e781c2ff9622be419065377ac2f338bd5fbf57a5f6dbef68da77f009a2559a3', '{visual,rim,face}', '{NULL,indicator-1,indicator-1}', '{good,within,within}', '{NULL,0.28,0.28}', '{NULL,0.19,0.124}', '{NULL,0.186,0.121}', '{NULL,0.008,0.008}', '{NULL,0.0001,0.0001}', NULL);
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document, checks, gauges, outcomes, limits_mm, tirs_mm, trues_mm, us_mm, ps_over, decision) VALUES ('greywacke', 'bay-3', 'truck-20', 1, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x785ed5566d8bdc3610fe2bc340a001ad237b5f6e57f9da50faa5b4215068388c4e9ab5d5b52523c97b771cfba3fa17facbca787d9bbb240d345048bef865349ad1cc3ccf681e3099967a8d0aa3f34d8e23bd8a94c62ebf2a51a0f36920935df0a830c7d11c16954481918e2e4dd25260ca3a132a4caef164516072d37f13e9fe569b03a1c01b7d8f8a9f8b252b9830b046f00bf28df3ac317fa8074c149dee50e14fbf2dde2caa4a5ea140eb52d6de507de85195db5525652105b6618ca96e5195e5f64a16f224d0ea7ea0881f19fa7121b7e51a059ae0134732071543d791c593c0db100f758896f7b2ebdf17cbe58e931006e2b81456b2da2cca72516ddec9955a6f55b929ca6af9075bed42fa4467adca959255b1969275e6fc7cac5349b52a0bf954a7bee16cbd2de0cd9dee878ed3d3536e83e5a81cbba1cbc291e2b912c8674dadaed61b54b85daeb73bb9965ffbe68c9896cc21b1cfa34b2397e401c3984de8b9784d085cec483a4dee75d7c1125ca63e4122f2a0bd85596992a27aff80fc850a3bd2073e2e91ff602ad35d4685bf0448ae732678827d373a0bc1438870435db885dc12d873894fe262cf92cfe90b06a775369243e8a0d7f190c0f9c998d1c9f9069f181bb4f3f9df8cfdca8be0c9e59622dc742e658a64c18708d62513ba30c689063e4c34b063caf778ba3e098cae7f9ec35b975be79f66911908ef7e7e0bb228b71be87bf8fb2f9085945bfefe61b786172fc12538ef9c02e85cef32843dc8a23a6b9996a9c2a21b72be8170a4a8e6fcc9a28417af218e1d2968461d2d59d0c6d030f16baa5aa43fcfac17c00e218d915e4317c2014ad0e990601f22ecaee0c54b1438f9affb1e151f40607671fe2b7782bb06d54f44db8dc0b1a6bb417b4b76964ab965661e29ea8658b05b0b1c6a16f09f94b214d8ead807ef4c9a803433b514c84c7079b4f4686c27706875a2da52834cae8a8b3b6fa83eb341ae9eed28ab429eae059231e47374c6e5fb27b65bd7b4751a42fe607f3e3cd9b368b95917e55454eb7c93506dcb4a60a3470e6e66b0f3d6199d435c9453fd53e8464ef9a3238eb81f2e31f1118deedc4dd493961d195b95acae1672b390259e4e02f7da4c0e3e90f40c93c9c14cd3fc04605509df39c0aa95f8046155f9bf236cf30c2fd57f03cca4fe2d2086a9dae5ba8fdaa292c54a20dd996eb47c91bd47f216f65dd01972ab33f4e148e7b633351d13b53f28e01e7d413218ed7dc830c470247019af1994478ad6196eec07a2e1024566f17caf28f8d2dd115daf806bfc88daefa42d32199f1ffcbba0dbb5404f77b99e1accc3f3b96bf999b96bb5e5b98bc7ae7ce948d38cc413440afb7cab232f3c8e977cb115e719524fddb1becc2c56efd7eb7db5f9da379efe015a3f599d', '{visual,rim,face}', '{NULL,indicator-1,indicator-1}', '{good,within,within}', '{NULL,0.28,0.28}', '{NULL,0.19,0.124}', '{NULL,0.186,0.121}', '{NULL,0.008,0.008}', '{NULL,0.0001,0.0001}', NULL);
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-2', 'truck-14', 1, 'b83ecb0040ad8d08e13dccee7f2e064c4d4e4fdbb91f5556428f019bfa4d79d3', '2026-11-01', '2026-11-27 12:03:43.040106+00');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-2', 'truck-14', 2, '65227f0852320913889594a27da5addfed7db8f3410beb106b132a89b013bd7f', '2026-11-01', '2026-11-27 12:03:43.040106+00');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-2', 'truck-15', 1, 'fc5b135748493b36b0cdec884ac1e45f84ed0d893c587d0c6409c3a9c591205c', '2026-11-01', '2026-11-27 12:03:43.040106+00');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-2', 'truck-16', 1, '2f4b05517813492330e39af22ab5a396d2a2e1b7210baf20a51410e9419096a3', '2026-11-01', '2026-11-27 12:03:43.078108+00');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-2', 'truck-18', 1, '6cf843d90c88ed4e6bcf63feed68ccc4c58ac265203bfb3a1e48f56ff34c014c', '2026-11-01', '2026-11-27 12:03:43.102968+00');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-3', 'truck-20', 1, '0c539d8944114209dddfaee507f4fcb0b9c3ace159439f73ae0d320f16650bba', '2026-11-01', '2026-11-27 12:03:43.130235+00');
INSERT INTO public.fleet_walked (site, bay, chain, size, root, subtrees, last) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 4, 'ba1f3950a8f896c3a3b1a4e736fea77bda4411a4b79836f1ff960993cf9cd514', '\xba1f3950a8f896c3a3b1a4e736fea77bda4411a4b79836f1ff960993cf9cd514', '52ad1a833e6d441b675c8795784e7aceb75e83720f19b425a8cf096b598fd5ba');
INSERT INTO public.fleet_walked (site, bay, chain, size, root, subtrees, last) VALUES ('greywacke', 'bay-3', '375c99ac0e49fbb3', 2, '525b79d77ab8912123e90d11d4307b3cc412216316334e08cce8e09e559848bd', '\x525b79d77ab8912123e90d11d4307b3cc412216316334e08cce8e09e559848bd', '96086c3ed91bc026190f6b3e8df6a8a6ce9d47938c3f15e06df75e8fc5d3b35e');
INSERT INTO public.ringtrue_fleet_version (version_num) VALUES ('0005');
ALTER TABLE ONLY public.fleet_asked
    ADD CONSTRAINT fleet_asked_pkey PRIMARY KEY (site, bay, asked);
ALTER TABLE ONLY public.fleet_bay_keys
    ADD CONSTRAINT fleet_bay_keys_pkey PRIMARY KEY (site, bay, key);
ALTER TABLE ONLY public.fleet_breaks
    ADD CONSTRAINT fleet_breaks_pkey PRIMARY KEY (site, bay, chain, place, what);
ALTER TABLE ONLY public.fleet_chain
    ADD CONSTRAINT fleet_chain_pkey PRIMARY KEY (site, bay, chain, place);
ALTER TABLE ONLY public.fleet_checkpoints
    ADD CONSTRAINT fleet_checkpoints_pkey PRIMARY KEY (site, bay, chain, size, root);
ALTER TABLE ONLY public.fleet_refused_gone
    ADD CONSTRAINT fleet_refused_gone_pkey PRIMARY KEY (reason);
ALTER TABLE ONLY public.fleet_refused
    ADD CONSTRAINT fleet_refused_pkey PRIMARY KEY (sha256, topic, reason);
ALTER TABLE ONLY public.fleet_results
    ADD CONSTRAINT fleet_results_pkey PRIMARY KEY (site, bay, inspection, revision, month);
ALTER TABLE ONLY public.fleet_results_2026_11
    ADD CONSTRAINT fleet_results_2026_11_pkey PRIMARY KEY (site, bay, inspection, revision, month);
ALTER TABLE ONLY public.fleet_results_2026_12
    ADD CONSTRAINT fleet_results_2026_12_pkey PRIMARY KEY (site, bay, inspection, revision, month);
ALTER TABLE ONLY public.fleet_results_2027_01
    ADD CONSTRAINT fleet_results_2027_01_pkey PRIMARY KEY (site, bay, inspection, revision, month);
ALTER TABLE ONLY public.fleet_revisions
    ADD CONSTRAINT fleet_revisions_pkey PRIMARY KEY (site, bay, inspection, revision);
ALTER TABLE ONLY public.fleet_taken_up
    ADD CONSTRAINT fleet_taken_up_pkey PRIMARY KEY (sha256, topic);
ALTER TABLE ONLY public.fleet_walked
    ADD CONSTRAINT fleet_walked_pkey PRIMARY KEY (site, bay, chain, size);
ALTER TABLE ONLY public.ringtrue_fleet_version
    ADD CONSTRAINT ringtrue_fleet_version_pkc PRIMARY KEY (version_num);
CREATE INDEX ix_fleet_results_damper ON ONLY public.fleet_results USING btree (damper, opened);
CREATE INDEX fleet_results_2026_11_damper_opened_idx ON public.fleet_results_2026_11 USING btree (damper, opened);
CREATE INDEX ix_fleet_results_engine ON ONLY public.fleet_results USING btree (engine, opened);
CREATE INDEX fleet_results_2026_11_engine_opened_idx ON public.fleet_results_2026_11 USING btree (engine, opened);
CREATE INDEX fleet_results_2026_12_damper_opened_idx ON public.fleet_results_2026_12 USING btree (damper, opened);
CREATE INDEX fleet_results_2026_12_engine_opened_idx ON public.fleet_results_2026_12 USING btree (engine, opened);
CREATE INDEX fleet_results_2027_01_damper_opened_idx ON public.fleet_results_2027_01 USING btree (damper, opened);
CREATE INDEX fleet_results_2027_01_engine_opened_idx ON public.fleet_results_2027_01 USING btree (engine, opened);
CREATE INDEX ix_fleet_chain_after ON public.fleet_chain USING btree (site, bay) WHERE (after_chain IS NOT NULL);
CREATE INDEX ix_fleet_chain_revision ON public.fleet_chain USING btree (site, bay, inspection, revision);
CREATE INDEX ix_fleet_chain_stored ON public.fleet_chain USING brin (stored) WITH (autosummarize='on');
CREATE INDEX ix_fleet_checkpoints_stored ON public.fleet_checkpoints USING btree (stored);
CREATE INDEX ix_fleet_refused_reason ON public.fleet_refused USING btree (reason, stored);
CREATE INDEX ix_fleet_revisions_stored ON public.fleet_revisions USING brin (stored) WITH (autosummarize='on');
ALTER INDEX public.ix_fleet_results_damper ATTACH PARTITION public.fleet_results_2026_11_damper_opened_idx;
ALTER INDEX public.ix_fleet_results_engine ATTACH PARTITION public.fleet_results_2026_11_engine_opened_idx;
ALTER INDEX public.fleet_results_pkey ATTACH PARTITION public.fleet_results_2026_11_pkey;
ALTER INDEX public.ix_fleet_results_damper ATTACH PARTITION public.fleet_results_2026_12_damper_opened_idx;
ALTER INDEX public.ix_fleet_results_engine ATTACH PARTITION public.fleet_results_2026_12_engine_opened_idx;
ALTER INDEX public.fleet_results_pkey ATTACH PARTITION public.fleet_results_2026_12_pkey;
ALTER INDEX public.ix_fleet_results_damper ATTACH PARTITION public.fleet_results_2027_01_damper_opened_idx;
ALTER INDEX public.ix_fleet_results_engine ATTACH PARTITION public.fleet_results_2027_01_engine_opened_idx;
ALTER INDEX public.fleet_results_pkey ATTACH PARTITION public.fleet_results_2027_01_pkey;
